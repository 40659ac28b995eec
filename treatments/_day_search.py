"""The shortest order of steps for a treatment day: a search in layers, one step of a person a layer. Pure.

    shortest   steps in their order, and whether nothing shorter can exist
    calmest    the same where hives are opened as soon as their time has come

A layer keeps the unfinished plans that promise most (beam search). Where none of promise had to be left out, all
plans were tried, and nothing shorter exists.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

from treatments._day_state import Chosen, State, after, choices_of, start_of
from treatments._day_work import Work, heaters_done, lower_bound

EFFORT, EFFORT_SMALL = 2_000, 50_000
"""How many states a layer keeps: these over the number of steps, and over its square; the larger of the two."""
WIDTH_MIN = 2
SHUT_WEIGHT = 3
"""A minute that hives stand shut beyond their time, on the mean, counts as so many minutes of the day."""


class Promise(NamedTuple):
    """The least finish that can come of a state, and how far hands and heaters are from done, on the mean."""

    finish: int
    hands: float
    heaters: float


Rank = Callable[[Promise, State], tuple[float, ...]]


@dataclass(frozen=True, slots=True)
class Found:
    """Steps in their order, when the last is done, for how long hives stand shut too long, and if none is shorter."""

    steps: tuple[Chosen, ...]
    finish: int
    shut_long: int
    proven: bool


@lru_cache(maxsize=128)
def shortest(work: Work) -> Found:
    """The shortest plan that two searches find, which look in different places; of the same length the calmest."""
    least = lower_bound(work)
    plans, cut = _search(work, _rank_by_progress)
    best = min(plans, key=_length)
    if best.people[-1] > least:
        plans, cut_too = _search(work, _rank_by_finish(least), most=best.people[-1] - 1)
        best, cut = min([*plans, best], key=_length), cut and cut_too
    proven = best.people[-1] <= least or not cut
    if best.shut_long:
        plans, _ = _search(work, _rank_by_calm(work.hives), most=best.people[-1])
        best = min([*plans, best], key=_length)
    return _found(best, proven=proven)


@lru_cache(maxsize=128)
def calmest(work: Work) -> Found:
    """A plan that opens hives when their time has come, and is short besides."""
    plans, _ = _search(work, _rank_by_calm(work.hives))
    best = min(plans, key=lambda one: one.people[-1] + SHUT_WEIGHT * one.shut_long / work.hives)
    return _found(best, proven=best.people[-1] <= lower_bound(work))


def _length(plan: State) -> tuple[int, int]:
    return plan.people[-1], plan.shut_long


def _found(plan: State, *, proven: bool) -> Found:
    steps: list[Chosen] = []
    state: State | None = plan
    while state is not None and state.chosen is not None:
        steps.append(state.chosen)
        state = state.before
    return Found(tuple(reversed(steps)), plan.people[-1], plan.shut_long, proven)


def _rank_by_progress(promise: Promise, state: State) -> tuple[float, ...]:
    both = (promise.hands, promise.heaters)
    return max(both), sum(both), state.shut_long


def _rank_by_finish(target: int) -> Rank:
    return lambda promise, state: (max(promise.finish, target), state.shut_long)


def _rank_by_calm(hives: int) -> Rank:
    def rank(promise: Promise, state: State) -> tuple[float, ...]:
        now = state.people[0]
        shut = state.shut_long + sum(now - at for at in state.opens if at < now)
        both = (promise.hands, promise.heaters)
        return max(both) + SHUT_WEIGHT * shut / hives, sum(both)

    return rank


def _search(work: Work, rank: Rank, most: int | None = None) -> tuple[list[State], bool]:
    """Finished plans, only those that end by `most`, and whether unfinished ones of promise were left out."""
    steps = 2 * sum(work.loads) + work.hives
    width = max(EFFORT // steps, EFFORT_SMALL // steps**2, WIDTH_MIN)
    layer, cut = [start_of(work)], False
    for _ in range(steps):
        ranked: list[tuple[tuple[float, ...], int, State]] = []
        for number, state in enumerate(_next_layer(work, layer)):
            promise = _promise(work, state)
            if most is None or promise.finish <= most:
                ranked.append((rank(promise, state), number, state))
        cut |= len(ranked) > width
        layer = [state for _, _, state in sorted(ranked, key=lambda one: one[:2])[:width]]
    return layer, cut


def _next_layer(work: Work, layer: list[State]) -> Iterable[State]:
    """All states one step on; of those with the same future, the one that left hives shut least."""
    found: dict[tuple[object, ...], State] = {}
    for state in layer:
        for choice in choices_of(work, state):
            child = after(work, state, choice)
            key = child[:7]
            if key not in found or child.shut_long < found[key].shut_long:
                found[key] = child
    return found.values()


def _promise(work: Work, state: State) -> Promise:
    people = sum(state.people) + state.hands_left
    ends = [state.people[-1], -(-people // work.people)]
    if state.opens:
        ends.append(state.opens[-1] + work.open)
    if state.draws:
        ends.append(state.draws[-1].ready - work.wait + work.tail)
    heaters = 0.0
    if state.hive < work.hives or state.again:
        free = _free(work, state)
        ends.append(heaters_done(work, free, state.hive) - work.after_heat + work.tail)
        heaters = (sum(free) + work.heater_left[state.hive]) / work.heaters - work.after_heat + work.tail
    return Promise(max(ends), people / work.people, heaters)


def _free(work: Work, state: State) -> list[int]:
    """When each heater can be carried on from where it is."""
    now = state.people[0]
    free = [max(at, now) for at in state.warm]
    free += [now + work.cold_extra] * state.cold
    for ready, hive, done in state.draws:
        free.append(max(ready, now) + work.draw + work.cool + work.heater_time(hive, work.loads[hive] - done))
    for ready, hive, done in state.again:
        free.append(max(ready, now) + work.heater_time(hive, work.loads[hive] - done))
    return free
