"""The treatment day with vapour: who does what at which hive and when, and when each may be opened. Pure.

    day_plan          the plan for hives in their order, or why there is none
    what_more_saves   when the day would end with other numbers of heaters and people

Scheduling on identical parallel machines with common servers that load and unload them, shortest finish: heaters are
the machines, people the servers (Hall, Potts & Sriskandarajah 2000, Discrete Applied Mathematics 102:223-243, abstract;
with unloading and list scheduling: Jiang, Zhou, Wang & Hu, ANZIAM Journal, abstract). Such problems are NP-hard, so
small days are searched whole and large ones in part; `lower_bound` says how far a plan can be from the shortest.

Hives are set up in the order given. Which heater goes where, and when each is drawn and opened, is the plan's choice.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from treatments._day_replay import DayPlan, DayTask, HeaterLoad, HiveTimes, PersonTask, replay
from treatments._day_search import Found, calmest, shortest
from treatments._day_work import Work, lower_bound
from treatments.constants import DEFAULTS

__all__ = [
    "Aim",
    "DayPlan",
    "DayTask",
    "HandTimes",
    "HeaterLoad",
    "HeaterTimes",
    "HiveTimes",
    "HiveWork",
    "NoPlan",
    "PersonTask",
    "Saving",
    "day_plan",
    "what_more_saves",
]

LOADS_MAX, HEATERS_MAX, PEOPLE_MAX, MINUTES_MAX = 300, 12, 2, 24 * 60
"""Beyond these there is no plan: our choice, far above what one yard sees in a day."""
HEATERS_TO_SPARE = 2
"""So many heaters more than the bound has use for are tried; further ones stay in the car."""


class NoPlan(StrEnum):
    """Why there is no plan."""

    NO_HIVES = "no_hives"
    TOO_MANY_LOADS = "too_many_loads"
    LOADS_UNKNOWN = "loads_unknown"
    NO_HEATER = "no_heater"
    TOO_MANY_HEATERS = "too_many_heaters"
    NO_PERSON = "no_person"
    TOO_MANY_PEOPLE = "too_many_people"
    NO_TIMED_TRIAL = "no_timed_trial"
    TIME_NOT_POSSIBLE = "time_not_possible"


class Aim(StrEnum):
    """What comes first. The shortest day may leave bees shut in for hours; in time costs a few minutes in 100."""

    OPEN_IN_TIME = "open_in_time"
    SHORTEST = "shortest"


@dataclass(frozen=True, slots=True, kw_only=True)
class HiveWork:
    """What one hive needs: loads, more than one where a load is not enough for its boxes; `heat` if not as usual."""

    loads: int | None = 1
    heat: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HeaterTimes:
    """Minutes from the member's own timed trial: first load of a cold heater, following ones, cooling after each."""

    first: float | None
    following: float | None
    cool: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class HandTimes:
    """Minutes of a person's steps, and of what nobody may hurry: the wait before drawing, and the time kept shut."""

    carry: float = DEFAULTS.carry_minutes.value
    set_up: float = DEFAULTS.set_up_minutes.value
    draw: float = DEFAULTS.draw_minutes.value
    open: float = DEFAULTS.open_minutes.value
    wait: float = DEFAULTS.wait_before_drawing_minutes.value
    sealed: float = DEFAULTS.sealed_minutes.value


@dataclass(frozen=True, slots=True)
class Saving:
    """When the day ends with so many heaters and people, and how many minutes sooner than with one of each."""

    heaters: int
    people: int
    finish: float
    saved: float


def day_plan(
    hives: Sequence[HiveWork],
    heater: HeaterTimes,
    *,
    heaters: int = 1,
    people: int = 1,
    start: float = 0,
    hands: HandTimes = HandTimes(),
    aim: Aim = Aim.OPEN_IN_TIME,
) -> DayPlan | NoPlan:
    """The plan, in minutes from the same zero as `start`; times are kept to the second.

    Never longer with another heater or person: what does not help stays in the car.
    """
    problem = _problem(hives, heater, heaters, people, (start, *_times(hands)))
    if problem is not None:
        return problem
    work = _work(hives, heater, heaters, people, hands)
    used, found = _best(work, aim)
    return replay(used, found, start=_seconds(start), least=lower_bound(work))


def what_more_saves(
    hives: Sequence[HiveWork],
    heater: HeaterTimes,
    *,
    heaters: int = 3,
    people: int = 2,
    hands: HandTimes = HandTimes(),
    aim: Aim = Aim.OPEN_IN_TIME,
) -> tuple[Saving, ...] | NoPlan:
    """One line for each number of people and heaters up to these, one person and one heater first."""
    problem = _problem(hives, heater, heaters, people, _times(hands))
    if problem is not None:
        return problem
    lines: list[Saving] = []
    for helpers in range(1, people + 1):
        for machines in range(1, heaters + 1):
            _, found = _best(_work(hives, heater, machines, helpers, hands), aim)
            finish = found.finish / 60
            lines.append(Saving(machines, helpers, finish, (lines[0].finish if lines else finish) - finish))
    return tuple(lines)


def _times(hands: HandTimes) -> tuple[float, ...]:
    return hands.carry, hands.set_up, hands.draw, hands.open, hands.wait, hands.sealed


def _problem(
    hives: Sequence[HiveWork], heater: HeaterTimes, heaters: int, people: int, minutes: Sequence[float]
) -> NoPlan | None:
    """The first thing that stands in the way of a plan."""
    return _problem_of_numbers(hives, heaters, people) or _problem_of_times(hives, heater, minutes)


def _problem_of_numbers(hives: Sequence[HiveWork], heaters: int, people: int) -> NoPlan | None:
    loads = [one.loads for one in hives[: LOADS_MAX + 1]]
    checks = (
        (not loads, NoPlan.NO_HIVES),
        (any(one is None or one < 1 for one in loads), NoPlan.LOADS_UNKNOWN),
        (sum(one or 0 for one in loads) > LOADS_MAX, NoPlan.TOO_MANY_LOADS),
        (heaters < 1, NoPlan.NO_HEATER),
        (heaters > HEATERS_MAX, NoPlan.TOO_MANY_HEATERS),
        (people < 1, NoPlan.NO_PERSON),
        (people > PEOPLE_MAX, NoPlan.TOO_MANY_PEOPLE),
    )
    return next((reason for found, reason in checks if found), None)


def _problem_of_times(
    hives: Sequence[HiveWork], heater: HeaterTimes, minutes: Sequence[float]
) -> NoPlan | None:
    trial = [one for one in (heater.first, heater.following, heater.cool) if one is not None]
    if len(trial) < 3:
        return NoPlan.NO_TIMED_TRIAL
    own = [one.heat for one in hives if one.heat is not None]
    # NaN is between nothing and nothing.
    if not all(0 <= one <= MINUTES_MAX for one in (*trial, *own, *minutes)):
        return NoPlan.TIME_NOT_POSSIBLE
    return None


def _seconds(minutes: float | None) -> int:
    """Whole seconds; halves are rounded up, so that nothing is hurried."""
    return math.floor((minutes or 0) * 60 + 0.5)


def _work(
    hives: Sequence[HiveWork], heater: HeaterTimes, heaters: int, people: int, hands: HandTimes
) -> Work:
    usual = _seconds(heater.following)
    return Work(
        heats=tuple(usual if one.heat is None else _seconds(one.heat) for one in hives),
        loads=tuple(one.loads or 0 for one in hives),
        cold_extra=_seconds(heater.first) - usual,
        heaters=min(heaters, len(hives)),
        people=people,
        carry=_seconds(hands.carry),
        set_up=_seconds(hands.set_up),
        wait=_seconds(hands.wait),
        draw=_seconds(hands.draw),
        cool=_seconds(heater.cool),
        sealed=_seconds(hands.sealed),
        open=_seconds(hands.open),
    )


def _best(work: Work, aim: Aim) -> tuple[Work, Found]:
    """The shortest plan of all that use no more heaters and people, with the work it is for."""
    search = shortest if aim is Aim.SHORTEST else calmest
    used = replace(work, heaters=_of_use(work))
    found = search(used)
    for fewer in _with_fewer(work):
        if lower_bound(fewer) < found.finish:
            other = search(fewer)
            used, found = (fewer, other) if other.finish < found.finish else (used, found)
    return used, found


def _with_fewer(work: Work) -> Iterator[Work]:
    for people in range(work.people, 0, -1):
        for heaters in range(_of_use(replace(work, people=people)), 0, -1):
            yield replace(work, heaters=heaters, people=people)


def _of_use(work: Work) -> int:
    """Heaters that the bound has use for, and some to spare."""
    least = lower_bound(work)
    needed = next(k for k in range(1, work.heaters + 1) if lower_bound(replace(work, heaters=k)) == least)
    return min(work.heaters, needed + HEATERS_TO_SPARE)
