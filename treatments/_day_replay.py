"""The steps of a treatment day played through: times of hives, heaters and people. Pure.

replay   the plan that follows when people take the steps in this order, each as soon as it can be
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from enum import StrEnum

from treatments._day_search import Found
from treatments._day_state import Step
from treatments._day_work import Work


class DayTask(StrEnum):
    """What a person does."""

    CARRY = "carry"
    SET_UP = "set_up"
    DRAW = "draw"
    OPEN = "open"


@dataclass(frozen=True, slots=True)
class PersonTask:
    """One step of a person. Hives, loads, heaters and people are numbered from 1; no heater for an opening."""

    person: int
    task: DayTask
    hive: int
    load: int
    heater: int | None
    begins: float
    ends: float


@dataclass(frozen=True, slots=True)
class HeaterLoad:
    """One load on a heater, from being carried until it is cool."""

    heater: int
    hive: int
    load: int
    cold: bool
    taken_at: float
    heat_from: float
    heat_to: float
    drawn_at: float
    cool_at: float

    @property
    def heats(self) -> float:
        """Minutes that this load heats."""
        return self.heat_to - self.heat_from


@dataclass(frozen=True, slots=True)
class HiveTimes:
    """A hive's day. Closed when its first setting up begins, opened when a person begins to open it.

    `heat_to` ends the last vapour and `open_from` is the earliest time to open it.
    """

    hive: int
    heater: int
    closed_at: float
    heat_from: float
    heat_to: float
    drawn_at: float
    open_from: float
    opened_at: float
    set_up_by: int
    opened_by: int

    @property
    def shut_long(self) -> float:
        """Minutes that it stands shut beyond its time, because nobody is free."""
        return self.opened_at - self.open_from


@dataclass(frozen=True, slots=True)
class DayPlan:
    """The plan. `lower_bound` is the finish no plan can beat; `proven` says that this is the shortest."""

    hives: tuple[HiveTimes, ...]
    people: tuple[tuple[PersonTask, ...], ...]
    heaters: tuple[tuple[HeaterLoad, ...], ...]
    start: float
    finish: float
    lower_bound: float
    proven: bool

    @property
    def minutes(self) -> float:
        """How long the day lasts."""
        return self.finish - self.start

    @property
    def loads(self) -> tuple[HeaterLoad, ...]:
        """All loads in the order in which they begin to heat."""
        return tuple(sorted((one for of in self.heaters for one in of), key=lambda one: one.heat_from))

    @property
    def shut_longest(self) -> float:
        """Minutes that the unluckiest hive stands shut beyond its time."""
        return max(one.shut_long for one in self.hives)


@dataclass(slots=True)
class _Heating:
    """A load that heats: everything in seconds."""

    heater: int
    load: int
    cold: bool
    taken_at: int
    heat_from: int
    heat_to: int


@dataclass(slots=True)
class _Day:
    """What has happened so far, in seconds from the day's start; numbers count from 0."""

    work: Work
    start: int
    now: int = 0
    people: list[int] = field(default_factory=list)
    cold: list[int] = field(default_factory=list)
    warm: list[tuple[int, int]] = field(default_factory=list)
    heating: dict[int, _Heating] = field(default_factory=dict)
    again: dict[int, tuple[int, int, int]] = field(default_factory=dict)
    waiting: list[tuple[int, int]] = field(default_factory=list)
    tasks: list[PersonTask] = field(default_factory=list)
    loads: dict[int, list[HeaterLoad]] = field(default_factory=lambda: defaultdict(list))
    opened: dict[int, tuple[int, int, int]] = field(default_factory=dict)

    def minutes(self, seconds: int) -> float:
        """Minutes from the caller's zero."""
        return (self.start + seconds) / 60

    def begin(self, ready: int, lasts: int) -> tuple[int, int]:
        """The time and the person of a step that can be taken from `ready`: the first who is free then."""
        at = max(ready, min(self.people), self.now)
        person = next(number for number, free in enumerate(self.people) if free <= at)
        self.people[person] = at + lasts
        self.now = at
        return at, person

    def note(
        self, person: int, task: DayTask, hive: int, load: int, heater: int | None, at: int, to: int
    ) -> None:
        """One more task of a person."""
        number = None if heater is None else heater + 1
        self.tasks.append(
            PersonTask(person + 1, task, hive + 1, load, number, self.minutes(at), self.minutes(to))
        )


def replay(work: Work, found: Found, *, start: int, least: int) -> DayPlan:
    """The plan from its steps; `start` and `least` in seconds."""
    day = _Day(work, start, people=[0] * work.people)
    if work.cold_extra:
        day.cold = list(range(work.heaters))
    else:
        day.warm = [(0, number) for number in range(work.heaters)]
    for step, hive in found.steps:
        if step is Step.OPEN:
            _open(day)
        elif step is Step.DRAW:
            _draw(day, hive)
        else:
            _set_up(day, step, hive)
    return DayPlan(
        tuple(_hive_times(day, hive) for hive in range(work.hives)),
        tuple(tuple(one for one in day.tasks if one.person == number + 1) for number in range(work.people)),
        tuple(tuple(day.loads[number]) for number in range(work.heaters)),
        day.minutes(0),
        day.minutes(max(day.people)),
        day.minutes(least),
        found.proven,
    )


def _set_up(day: _Day, step: Step, hive: int) -> None:
    carry, load, ready = day.work.carry, 1, 0
    if step is Step.SET_UP_AGAIN:
        ready, heater, load = day.again.pop(hive)
        carry = 0
    elif step is Step.SET_UP_COLD:
        heater = day.cold.pop(0)
    else:
        ready, heater = min(day.warm)
        day.warm.remove((ready, heater))
    at, person = day.begin(ready, carry + day.work.set_up)
    there = at + carry
    if carry:
        day.note(person, DayTask.CARRY, hive, load, heater, at, there)
    heat_from = there + day.work.set_up
    day.note(person, DayTask.SET_UP, hive, load, heater, there, heat_from)
    heat_to = heat_from + day.work.heat(hive, cold=step is Step.SET_UP_COLD)
    day.heating[hive] = _Heating(heater, load, heater not in day.loads, at, heat_from, heat_to)


def _draw(day: _Day, hive: int) -> None:
    one = day.heating.pop(hive)
    at, person = day.begin(one.heat_to + day.work.wait, day.work.draw)
    drawn = at + day.work.draw
    cool = drawn + day.work.cool
    day.note(person, DayTask.DRAW, hive, one.load, one.heater, at, drawn)
    times = map(day.minutes, (one.taken_at, one.heat_from, one.heat_to, drawn, cool))
    day.loads[one.heater].append(HeaterLoad(one.heater + 1, hive + 1, one.load, one.cold, *times))
    if one.load < day.work.loads[hive]:
        day.again[hive] = cool, one.heater, one.load + 1
        return
    day.warm.append((cool, one.heater))
    day.waiting.append((max(one.heat_to + day.work.sealed, drawn), hive))


def _open(day: _Day) -> None:
    ready, hive = min(day.waiting)
    day.waiting.remove((ready, hive))
    at, person = day.begin(ready, day.work.open)
    day.note(person, DayTask.OPEN, hive, day.work.loads[hive], None, at, at + day.work.open)
    day.opened[hive] = ready, at, person


def _hive_times(day: _Day, hive: int) -> HiveTimes:
    loads = [one for of in day.loads.values() for one in of if one.hive == hive + 1]
    first_set_up = next(
        one for one in day.tasks if one.hive == hive + 1 and one.task is DayTask.SET_UP and one.load == 1
    )
    ready, at, opener = day.opened[hive]
    return HiveTimes(
        hive=hive + 1,
        heater=loads[0].heater,
        closed_at=first_set_up.begins,
        heat_from=loads[0].heat_from,
        heat_to=loads[-1].heat_to,
        drawn_at=loads[-1].drawn_at,
        open_from=day.minutes(ready),
        opened_at=day.minutes(at),
        set_up_by=first_set_up.person,
        opened_by=opener + 1,
    )
