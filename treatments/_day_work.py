"""A treatment day as work for heaters and hands, in whole seconds, and what no plan can beat. Pure.

    Work            hives in their order, heaters, people and how long each step takes
    lower_bound     the least that heaters, people or the last hive need, whatever the order of steps
    heaters_done    the same for heaters that come free at given times

A load on a heater is: carry and set up (a person), heat (alone), wait (alone), draw and reseal (a person),
cool (alone). A hive is opened (a person) once it was shut long enough after its last vapour.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import accumulate


@dataclass(frozen=True, kw_only=True)
class Work:
    """What is to be done, in whole seconds; `heats` and `loads` have one entry for each hive, in order."""

    heats: tuple[int, ...]
    loads: tuple[int, ...]
    cold_extra: int
    heaters: int
    people: int
    carry: int
    set_up: int
    wait: int
    draw: int
    cool: int
    sealed: int
    open: int

    @property
    def hives(self) -> int:
        """How many hives there are."""
        return len(self.loads)

    @property
    def first_set_up(self) -> int:
        """A person's time to bring a heater to a hive and set it up."""
        return self.carry + self.set_up

    @cached_property
    def after_heat(self) -> int:
        """A heater's least time from the end of its heating until it can be carried on."""
        return self.wait + self.draw + self.cool

    @cached_property
    def tail(self) -> int:
        """The least time from the end of the last heating of a hive until it stands open."""
        return max(self.sealed, self.wait + self.draw) + self.open

    def heat(self, hive: int, *, cold: bool) -> int:
        """Seconds that one load of this hive heats."""
        return max(self.heats[hive] + self.cold_extra, 0) if cold else self.heats[hive]

    def heater_time(self, hive: int, loads: int) -> int:
        """A warm heater's least time for so many loads of a hive, without the carrying."""
        return loads * (self.set_up + self.heats[hive] + self.after_heat)

    @cached_property
    def uniform(self) -> int:
        """A heater's time for a hive where it is the same for all, else 0."""
        times = {self.carry + self.heater_time(hive, self.loads[hive]) for hive in range(self.hives)}
        return times.pop() if len(times) == 1 else 0

    @cached_property
    def heater_left(self) -> tuple[int, ...]:
        """Heater time of all hives from each one to the last; 0 at the end."""
        times = [self.carry + self.heater_time(hive, self.loads[hive]) for hive in range(self.hives)]
        return (*reversed(list(accumulate(reversed(times)))), 0)

    @cached_property
    def hand_time(self) -> int:
        """All that people do, together."""
        return self.hives * (self.carry + self.open) + sum(self.loads) * (self.set_up + self.draw)

    @cached_property
    def alike(self) -> dict[tuple[int, int], tuple[int, int]]:
        """For each hive and number of loads done what is left of it: hives with the same are alike."""
        return {
            (hive, done): (loads - done, self.heats[hive] if done < loads else 0)
            for hive, loads in enumerate(self.loads)
            for done in range(loads + 1)
        }


def heaters_done(work: Work, free: Sequence[int], first: int) -> int:
    """When at the earliest all hives from `first` are through, for heaters free at these times."""
    level = _water_level(sorted(free), work.heater_left[first])
    if not work.uniform:
        return level
    each = work.uniform
    taken = [max(level - at, 0) // each for at in free]
    missing = work.hives - first - sum(taken)
    ends = sorted(at + (loads + 1) * each for at, loads in zip(free, taken, strict=True))
    return max([level, *ends[:missing]]) if missing > 0 else level


def _water_level(free: Sequence[int], work: int) -> int:
    """The least time by which the heaters have that much time together, rounded up."""
    total = work
    for number, at in enumerate(free, start=1):
        total += at
        level = -(-total // number)
        if number == len(free) or level <= free[number]:
            return level
    raise ValueError("no heater")


@lru_cache(maxsize=512)
def lower_bound(work: Work) -> int:
    """Seconds that no plan can beat: the greatest of what heaters, people and single hives need."""
    return max(_heaters_need(work), _people_need(work), _longest_hive(work))


def _cold_start(work: Work) -> int:
    """Time that a heater's first load takes longer; never more than any hive can feel."""
    return min(work.heat(hive, cold=True) - work.heats[hive] for hive in range(work.hives))


def _heaters_need(work: Work) -> int:
    """A person has set up the j-th heater only after the earlier ones; then each turns without a rest."""
    extra = _cold_start(work)
    free = [number // work.people * work.first_set_up + extra for number in range(work.heaters)]
    # The first of them may not be needed at all, but a plan that leaves heaters idle takes no less.
    return heaters_done(work, free, 0) - work.after_heat + work.tail


def _people_need(work: Work) -> int:
    """All that people do, and the time at both ends in which there is too little for them to do."""
    last = _idle_at_last(work)
    idle = max(_idle_at_ends(work, until, last) for until in _before_openings(work))
    return -(-(work.hand_time + idle) // work.people)


def _first_load(work: Work) -> int:
    return min(work.heat(hive, cold=True) for hive in range(work.hives))


def _least_heat(work: Work) -> int:
    return min(_first_load(work), *work.heats)


def _before_openings(work: Work) -> set[int]:
    """Times until which no hive can be opened; those at which a heater could want a person, and the last."""
    heated = work.first_set_up + _first_load(work)
    if max(work.loads) > 1:
        # What comes between the loads of a hive is not followed here.
        return {heated + work.wait}
    until = heated + max(work.sealed, work.wait + work.draw)
    wanted = {
        number // work.people * work.first_set_up + at
        for number in range(work.heaters)
        for begin, drawn in _turns(work, until)
        for at in (begin, drawn)
    }
    return {until, *(at for at in wanted if at <= until)}


def _turns(work: Work, until: int) -> Iterator[tuple[int, int]]:
    """When a heater that never rests is set up and drawn, before a time."""
    at, heat = 0, _first_load(work)
    for _ in range(work.hives):
        drawn = at + work.first_set_up + heat + work.wait
        yield at, drawn
        at, heat = drawn + work.draw + work.cool, min(work.heats)
        if at >= until:
            return


def _idle_at_ends(work: Work, until: int, last: int) -> int:
    """Idle time of people before a time by which no hive can be opened, and after the last setting up."""
    busy, set_ups = 0, 0
    for number in range(min(work.heaters, work.hives)):
        left = until - number // work.people * work.first_set_up
        for begin, drawn in _turns(work, left):
            set_ups += begin < left
            busy += max(min(work.first_set_up, left - begin), 0) + max(min(work.draw, left - drawn), 0)
    first = max(work.people * until - busy, 0)
    # The ends do not overlap where a heater is still to be set up after the first of them.
    return first + last if sum(work.loads) > set_ups else max(first, last)


def _idle_at_last(work: Work) -> int:
    """From the last setting up to the end, people can only draw what heats and open hives."""
    lasts = work.people * (_least_heat(work) + work.tail)
    return max(lasts - min(work.heaters, work.hives) * work.draw - work.hives * work.open, 0)


def _longest_hive(work: Work) -> int:
    """The longest that one hive needs, were it alone."""
    extra = min(_cold_start(work), 0)
    return max(
        work.carry + work.heater_time(hive, work.loads[hive]) + extra - work.after_heat + work.tail
        for hive in range(work.hives)
    )
