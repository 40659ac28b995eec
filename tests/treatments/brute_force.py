"""The shortest treatment day by trying every order, written apart from the planner; for a handful of hives only.

Tried are all orders of all steps of people, every free heater for every hive, every person for every step. Each step
begins as soon as it can. Hives are set up in their order, and a hive keeps its heater until its loads are through:
the freedom that the planner has, and no other. A branch is left when it already lasts as long as the best one, or when
the very same situation was gone through before.
"""

from dataclasses import dataclass, replace


@dataclass(frozen=True)
class Times:
    """Whole minutes."""

    first: int
    following: int
    cool: int
    carry: int
    set_up: int
    draw: int
    open: int
    wait: int
    sealed: int


@dataclass(frozen=True)
class Hive:
    """Where one hive stands: loads begun and drawn, end of its heating, heater, when its heater is cool, drawn."""

    begun: int = 0
    drawn: int = 0
    heat_to: int = 0
    heater: int = -1
    cool: int = 0
    out: int = 0
    opened: bool = False


def shortest_day(loads, times, heaters, people):
    """Minutes of the shortest day."""
    best, seen = [10**9], set()
    _try((Hive(),) * len(loads), (0,) * people, ((0, True),) * heaters, 0, (loads, times), best, seen)
    return best[0]


def _try(hives, people, heaters, last_set_up, day, best, seen):
    here = hives, people, heaters, last_set_up
    if max(people) >= best[0] or here in seen:
        return
    seen.add(here)
    if all(hive.opened for hive in hives):
        best[0] = max(people)
        return
    for person in range(len(people)):
        for number in range(len(hives)):
            for changed, until, machines, set_up in _steps(
                number, hives, people[person], heaters, last_set_up, *day
            ):
                free = tuple(sorted(_with(people, person, until)))
                _try(_with(hives, number, changed), free, machines, set_up, day, best, seen)


def _with(many, place, one):
    return (*many[:place], one, *many[place + 1 :])


def _steps(number, hives, free, heaters, last, loads, times):
    """What a person who is free from a time can do at a hive: the hive after it, until when, heaters, last set up."""
    hive = hives[number]
    if hive.begun == 0:
        if number == 0 or hives[number - 1].begun:
            for machine, (ready, cold) in enumerate(heaters):
                if ready is not None and (ready, cold) not in heaters[:machine]:
                    at = max(free, ready, last)
                    until = at + times.carry + times.set_up
                    to = until + (times.first if cold else times.following)
                    busy = _with(heaters, machine, (None, False))
                    yield replace(hive, begun=1, heat_to=to, heater=machine), until, busy, at
    elif hive.drawn < hive.begun:
        until = max(free, hive.heat_to + times.wait) + times.draw
        cool = until + times.cool
        through = hive.begun == loads[number]
        machines = _with(heaters, hive.heater, (cool, False)) if through else heaters
        yield replace(hive, drawn=hive.begun, cool=cool, out=until), until, machines, last
    elif hive.begun < loads[number]:
        until = max(free, hive.cool) + times.set_up
        yield replace(hive, begun=hive.begun + 1, heat_to=until + times.following), until, heaters, last
    elif not hive.opened:
        until = max(free, hive.heat_to + times.sealed, hive.out) + times.open
        yield replace(hive, opened=True), until, heaters, last
