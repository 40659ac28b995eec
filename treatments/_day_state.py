"""An unfinished plan of a treatment day, and the steps that may come next in it. Pure.

    start_of, choices_of, after   the plan that is empty; the next steps of a plan; the plan with one of them

Plans are active schedules: a step is never begun so late that another would have been done before it. Hives and
heaters that are alike are told apart by nothing, so of those the one that is ready first goes first.
"""

from __future__ import annotations

from bisect import insort
from collections.abc import Iterator
from enum import IntEnum
from typing import NamedTuple

from treatments._day_work import Work


class Step(IntEnum):
    """What a person does next."""

    SET_UP_COLD = 0
    SET_UP_WARM = 1
    SET_UP_AGAIN = 2
    DRAW = 3
    OPEN = 4


class Chosen(NamedTuple):
    """A step with its hive; an opening is always of the hive that may be opened first."""

    step: Step
    hive: int


class Waiting(NamedTuple):
    """A heater at a hive that somebody must come to: from when, for which hive, after how many loads."""

    ready: int
    hive: int
    done: int


class State(NamedTuple):
    """An unfinished plan; times are sorted. Two with the same first seven fields have the same future."""

    people: tuple[int, ...]
    cold: int
    warm: tuple[int, ...]
    draws: tuple[Waiting, ...]
    again: tuple[Waiting, ...]
    opens: tuple[int, ...]
    hive: int
    hands_left: int
    shut_long: int
    before: State | None
    chosen: Chosen | None


class Choice(NamedTuple):
    """A step that may come next, at which place of its list."""

    begin: int
    end: int
    step: Step
    place: int


def start_of(work: Work) -> State:
    """Nothing done yet. Heaters that are as quick when cold count as warm."""
    warm = () if work.cold_extra else (0,) * work.heaters
    cold = work.heaters - len(warm)
    return State((0,) * work.people, cold, warm, (), (), (), 0, work.hand_time, 0, None, None)


def choices_of(work: Work, state: State) -> list[Choice]:
    """Steps that may come next in an active schedule."""
    now = state.people[0]
    choices = [*_at_hives(work, state, now), *_openings(work, state, now)]
    set_ups = list(_set_ups(work, state, now))
    # Which heater comes to the next hive is open while one is cold and another warm or in use.
    settled = not state.cold or not (state.warm or state.draws or state.again)
    limit = min((one.end for one in [*choices, *(set_ups if settled else ())]), default=None)
    choices += set_ups
    return [one for one in choices if limit is None or one.begin < limit or one.end <= limit]


def _at_hives(work: Work, state: State, now: int) -> Iterator[Choice]:
    """Heaters to draw or to set up again: of those that are alike, the first."""
    for step, waiting, lasts in (
        (Step.DRAW, state.draws, work.draw),
        (Step.SET_UP_AGAIN, state.again, work.set_up),
    ):
        seen = set()
        for place, one in enumerate(waiting):
            kind = work.alike[one.hive, one.done]
            if kind not in seen:
                seen.add(kind)
                begin = max(one.ready, now)
                yield Choice(begin, begin + lasts, step, place)


def _openings(work: Work, state: State, now: int) -> Iterator[Choice]:
    if state.opens:
        begin = max(state.opens[0], now)
        yield Choice(begin, begin + work.open, Step.OPEN, 0)


def _set_ups(work: Work, state: State, now: int) -> Iterator[Choice]:
    if state.hive == work.hives:
        return
    if state.warm:
        begin = max(state.warm[0], now)
        yield Choice(begin, begin + work.first_set_up, Step.SET_UP_WARM, 0)
    if state.cold:
        yield Choice(now, now + work.first_set_up, Step.SET_UP_COLD, 0)


def after(work: Work, state: State, choice: Choice) -> State:
    """The state when that step is chosen; nobody begins anything before it any more."""
    people = sorted([choice.end, *(max(free, choice.begin) for free in state.people[1:])])
    left = state.hands_left - (choice.end - choice.begin)
    moved = state._replace(people=tuple(people), hands_left=left, before=state)
    if choice.step is Step.DRAW:
        return _drawn(work, moved, choice)
    if choice.step is Step.OPEN:
        late = state.shut_long + choice.begin - state.opens[0]
        return moved._replace(opens=state.opens[1:], shut_long=late, chosen=Chosen(Step.OPEN, 0))
    return _set_up(work, moved, choice)


def _set_up(work: Work, state: State, choice: Choice) -> State:
    again, warm, cold, hive, done = state.again, state.warm, state.cold, state.hive, 1
    if choice.step is Step.SET_UP_AGAIN:
        again, one = _without(again, choice.place)
        hive, done = one.hive, one.done + 1
    elif choice.step is Step.SET_UP_WARM:
        warm = warm[1:]
    else:
        cold -= 1
    heated = choice.end + work.heat(hive, cold=choice.step is Step.SET_UP_COLD)
    draws = _with(state.draws, Waiting(heated + work.wait, hive, done))
    following = state.hive + (choice.step is not Step.SET_UP_AGAIN)
    chosen = Chosen(choice.step, hive)
    return state._replace(cold=cold, warm=warm, draws=draws, again=again, hive=following, chosen=chosen)


def _drawn(work: Work, state: State, choice: Choice) -> State:
    draws, one = _without(state.draws, choice.place)
    cooled = choice.end + work.cool
    chosen = Chosen(Step.DRAW, one.hive)
    if one.done < work.loads[one.hive]:
        again = _with(state.again, Waiting(cooled, one.hive, one.done))
        return state._replace(draws=draws, again=again, chosen=chosen)
    opens, warm = list(state.opens), list(state.warm)
    insort(opens, max(one.ready - work.wait + work.sealed, choice.end))
    insort(warm, cooled)
    return state._replace(draws=draws, warm=tuple(warm), opens=tuple(opens), chosen=chosen)


def _with(waiting: tuple[Waiting, ...], one: Waiting) -> tuple[Waiting, ...]:
    ordered = list(waiting)
    insort(ordered, one)
    return tuple(ordered)


def _without(waiting: tuple[Waiting, ...], place: int) -> tuple[tuple[Waiting, ...], Waiting]:
    return waiting[:place] + waiting[place + 1 :], waiting[place]
