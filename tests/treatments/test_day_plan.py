"""The treatment day: never in two places, never opened too soon, as short as can be."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.bench.days import SETS, TIGHT
from tests.treatments.brute_force import Times, shortest_day
from treatments._day_search import _promise, calmest, shortest
from treatments._day_state import after, choices_of, start_of
from treatments._day_work import Work
from treatments.day_plan import (
    HEATERS_MAX,
    LOADS_MAX,
    Aim,
    DayTask,
    HandTimes,
    HeaterTimes,
    HiveWork,
    NoPlan,
    day_plan,
    what_more_saves,
)

# Common practice, no source: 10 minutes for the first load, 7 for the next, 2 to cool, 5 before drawing, 15 shut.
TRIAL = HeaterTimes(first=10, following=7, cool=2)
WORKED = Times(first=10, following=7, cool=2, carry=1, set_up=2, draw=1, open=1, wait=5, sealed=15)
calm = settings(deadline=None, derandomize=True, max_examples=60)
few_days = settings(calm, max_examples=15)


def hives(number, loads=1):
    return [HiveWork(loads=loads)] * number


def planned(loads, times, heaters=1, people=1, **more):
    """The plan of a day whose steps take these whole minutes."""
    trial = HeaterTimes(first=times.first, following=times.following, cool=times.cool)
    hands = HandTimes(
        carry=times.carry,
        set_up=times.set_up,
        draw=times.draw,
        open=times.open,
        wait=times.wait,
        sealed=times.sealed,
    )
    work = [HiveWork(loads=one) for one in loads]
    return day_plan(work, trial, heaters=heaters, people=people, hands=hands, **more)


# What a day is.


def test_one_hive_by_the_clock():
    plan = planned([1], WORKED, start=540)
    (hive,) = plan.hives
    (load,) = plan.loads

    assert (plan.start, plan.finish, plan.minutes, plan.lower_bound) == (540, 569, 29, 569)
    assert (hive.closed_at, hive.heat_from, hive.heat_to, hive.drawn_at) == (541, 543, 553, 559)
    assert (hive.open_from, hive.opened_at, hive.shut_long) == (568, 568, 0)
    assert (hive.hive, hive.heater, hive.set_up_by, hive.opened_by) == (1, 1, 1, 1)
    assert (load.taken_at, load.heats, load.cool_at, load.cold, load.load) == (540, 10, 561, True, 1)
    assert [(one.task, one.begins, one.ends) for one in plan.people[0]] == [
        (DayTask.CARRY, 540, 541),
        (DayTask.SET_UP, 541, 543),
        (DayTask.DRAW, 558, 559),
        (DayTask.OPEN, 568, 569),
    ]
    assert plan.proven


def test_only_the_first_load_of_a_heater_is_cold():
    plan = planned([1] * 6, WORKED, heaters=2)

    assert [[one.heats for one in of] for of in plan.heaters] == [[10, 7, 7], [10, 7, 7]]
    assert [[one.cold for one in of] for of in plan.heaters] == [[True, False, False]] * 2


def test_second_load_of_a_hive_stays_with_its_heater_and_is_not_carried():
    plan = planned([2], WORKED)

    assert [one.task for one in plan.people[0]] == [
        DayTask.CARRY,
        DayTask.SET_UP,
        DayTask.DRAW,
        DayTask.SET_UP,
        DayTask.DRAW,
        DayTask.OPEN,
    ]
    # 3 + 10 + 5 + 1 + 2 cool; then 2 + 7, and 15 shut after the last vapour.
    assert [(one.heat_from, one.heat_to) for one in plan.loads] == [(3, 13), (23, 30)]
    assert (plan.hives[0].heat_to, plan.hives[0].open_from, plan.finish) == (30, 45, 46)


def test_a_hive_with_a_heating_time_of_its_own():
    plan = day_plan([HiveWork(), HiveWork(heat=12.5)], TRIAL)

    assert [one.heats for one in plan.loads] == [10, 12.5]
    # The cold heater takes 3 minutes more at any hive.
    assert [one.heats for one in day_plan([HiveWork(heat=12.5)], TRIAL).loads] == [15.5]


def test_hive_is_not_opened_before_its_heater_is_out():
    late = Times(first=4, following=4, cool=0, carry=0, set_up=1, draw=3, open=1, wait=9, sealed=2)
    (hive,) = planned([1], late).hives

    assert (hive.heat_to, hive.drawn_at, hive.open_from) == (5, 17, 17)


def test_times_are_kept_to_the_second():
    plan = day_plan(hives(1), HeaterTimes(first=2 + 20 / 60, following=2, cool=0))

    assert plan.loads[0].heats * 60 == pytest.approx(140)
    assert plan.finish * 60 == pytest.approx(round(plan.finish * 60))


def test_defaults_are_the_constants():
    assert HandTimes() == HandTimes(carry=1, set_up=2, draw=1, open=1, wait=5, sealed=15)


# The worked timing (issue of the treatment day): common practice, no source.


def test_worked_timing_of_twenty_hives():
    one, two, three, *with_helper = what_more_saves(hives(20), TRIAL, heaters=3, people=2, aim=Aim.SHORTEST)

    # By hand: 20 turns of 1 + 2 + 7 + 5 + 1 + 2, 3 more for the cold start; not 5 + 1 + 2 at the end, but 15 + 1.
    assert one.finish == 20 * 18 + 3 - 8 + 16 == 371
    assert (two.finish, three.finish) == (197, 143)
    assert three.saved == 228 and one.saved == 0
    assert [(of.heaters, of.people) for of in with_helper] == [(1, 2), (2, 2), (3, 2)]
    assert [of.finish for of in with_helper] == [371, 191, 137]
    # Opening hives in time costs 3 minutes of the 143.
    assert [of.finish for of in what_more_saves(hives(20), TRIAL, heaters=3, people=1)] == [371, 197, 146]


def test_slower_first_load_costs_its_own_time_only():
    slower = HeaterTimes(first=11, following=7, cool=2)

    assert day_plan(hives(20), slower).finish == 372


# Refusals.


@pytest.mark.parametrize(
    "trial",
    [
        HeaterTimes(first=None, following=7, cool=2),
        HeaterTimes(first=10, following=None, cool=2),
        HeaterTimes(first=10, following=7, cool=None),
    ],
)
def test_without_a_timed_trial_there_is_no_plan(trial):
    assert day_plan(hives(3), trial) is NoPlan.NO_TIMED_TRIAL
    assert what_more_saves(hives(3), trial) is NoPlan.NO_TIMED_TRIAL


@pytest.mark.parametrize(
    ("work", "heaters", "people", "reason"),
    [
        ([], 1, 1, NoPlan.NO_HIVES),
        ([HiveWork(loads=None)], 1, 1, NoPlan.LOADS_UNKNOWN),
        (hives(1, 0), 1, 1, NoPlan.LOADS_UNKNOWN),
        (hives(LOADS_MAX + 1), 1, 1, NoPlan.TOO_MANY_LOADS),
        (hives(2, LOADS_MAX // 2 + 1), 1, 1, NoPlan.TOO_MANY_LOADS),
        (hives(1), 0, 1, NoPlan.NO_HEATER),
        (hives(1), HEATERS_MAX + 1, 1, NoPlan.TOO_MANY_HEATERS),
        (hives(1), 1, 0, NoPlan.NO_PERSON),
        (hives(1), 1, 3, NoPlan.TOO_MANY_PEOPLE),
    ],
)
def test_numbers_without_a_plan(work, heaters, people, reason):
    assert day_plan(work, TRIAL, heaters=heaters, people=people) is reason
    assert what_more_saves(work, TRIAL, heaters=heaters, people=people) is reason


@pytest.mark.parametrize("minutes", [-1, 1441, float("nan"), float("inf")])
def test_times_that_cannot_be(minutes):
    no = NoPlan.TIME_NOT_POSSIBLE

    assert day_plan(hives(1), HeaterTimes(first=minutes, following=7, cool=2)) is no
    assert day_plan(hives(1), HeaterTimes(first=10, following=7, cool=minutes)) is no
    assert day_plan([HiveWork(heat=minutes)], TRIAL) is no
    assert day_plan(hives(1), TRIAL, start=minutes) is no
    for step in ("carry", "set_up", "draw", "open", "wait", "sealed"):
        assert day_plan(hives(1), TRIAL, hands=HandTimes(**{step: minutes})) is no


def test_the_largest_days_have_a_plan():
    assert day_plan(hives(LOADS_MAX), TRIAL, heaters=4).finish > 0
    assert day_plan(hives(1), HeaterTimes(first=1440, following=1440, cool=1440), heaters=HEATERS_MAX).proven


# As short as can be.

SHORT = Times(first=5, following=3, cool=2, carry=1, set_up=1, draw=1, open=1, wait=2, sealed=10)
HANDY = Times(first=4, following=2, cool=1, carry=2, set_up=3, draw=2, open=2, wait=0, sealed=6)
ALIKE = Times(first=3, following=3, cool=1, carry=0, set_up=2, draw=1, open=1, wait=2, sealed=10)
EAGER = Times(first=2, following=9, cool=3, carry=1, set_up=1, draw=2, open=1, wait=1, sealed=4)
SMALL = [
    *(([1] * 4, times, k, 1) for times in (WORKED, SHORT, HANDY, ALIKE, EAGER) for k in (1, 2, 3)),
    *(([1] * 4, times, k, 2) for times in (WORKED, EAGER) for k in (1, 2)),
    *(([1] * 3, times, 3, 2) for times in (WORKED, SHORT, HANDY, ALIKE, EAGER)),
    *(([1] * 5, WORKED, k, 1) for k in (1, 2)),
    *((loads, times, 2, 1) for loads in ([2, 1, 1], [1, 1, 2], [2, 2]) for times in (WORKED, HANDY, EAGER)),
    *(([1, 2, 1], times, 2, 2) for times in (WORKED, HANDY)),
    ([1, 3], WORKED, 1, 1),
]


@pytest.mark.parametrize(("loads", "times", "heaters", "people"), SMALL)
def test_no_order_of_steps_is_shorter(loads, times, heaters, people):
    plan = planned(loads, times, heaters, people, aim=Aim.SHORTEST)

    assert plan.finish == shortest_day(loads, times, heaters, people)
    assert plan.proven and plan.lower_bound <= plan.finish


few = st.sampled_from([0, 1, 2, 3, 5, 8])
any_times = st.builds(Times, few, few, few, few, few, few, few, few, few)
few_loads = st.lists(st.integers(1, 2), min_size=1, max_size=3).filter(lambda loads: sum(loads) <= 3)


@settings(deadline=None, derandomize=True, max_examples=150)
@given(few_loads, any_times, st.integers(1, 3), st.integers(1, 2))
def test_no_order_of_steps_is_shorter_whatever_the_times(loads, times, heaters, people):
    plan = planned(loads, times, heaters, people, aim=Aim.SHORTEST)
    calmer = planned(loads, times, heaters, people)

    assert plan.finish == shortest_day(loads, times, heaters, people)
    assert plan.proven and plan.lower_bound <= plan.finish <= calmer.finish
    assert not calmer.proven or calmer.finish == plan.finish


@pytest.mark.parametrize("aim", Aim)
@pytest.mark.parametrize("people", [1, 2])
@pytest.mark.parametrize("times", SETS.values(), ids=SETS)
def test_sixty_hives_and_four_heaters_end_close_to_the_bound(times, people, aim):
    plan = planned([1] * 60, times, 4, people, aim=aim)

    assert plan.lower_bound <= plan.finish <= 1.05 * plan.lower_bound


@pytest.mark.parametrize("people", [1, 2])
@pytest.mark.parametrize("times", TIGHT.values(), ids=TIGHT)
def test_where_hands_and_heaters_are_both_short_the_bound_is_further_off(times, people):
    plan = planned([1] * 60, times, 4, people, aim=Aim.SHORTEST)

    assert plan.lower_bound <= plan.finish <= 1.08 * plan.lower_bound


def test_bound_of_heaters_by_hand():
    # Two people set up two heaters at a time, so the last two are free at 3 + 3 for the cold start; each turns 15
    # times in 18 minutes. At the end there is no 5 + 1 + 2, but 15 shut and 1 to open.
    assert planned([1] * 60, WORKED, 4, 2).lower_bound == 6 + 15 * 18 - 8 + 16 == 284


def test_bound_of_people_by_hand():
    # 60 x 5 minutes of work for one person. Until minute 21, when the first heater is cool again, the four heaters
    # can have taken no more than 3 + 1, 3, 3 and 3 minutes.
    assert planned([1] * 60, WORKED, 4, 1).lower_bound == 60 * 5 + 21 - 13 == 308


def test_bound_of_a_long_time_shut():
    # The last of three hives is set up at 3 x 1; nothing but opening is left for 5 + 30 minutes.
    shut = Times(first=5, following=5, cool=0, carry=0, set_up=1, draw=0, open=1, wait=0, sealed=30)

    assert planned([1] * 3, shut, 3, 1).lower_bound == 3 + 5 + 30 + 1


def test_hives_are_opened_in_time_unless_the_day_is_to_be_short():
    shortest_plan = planned([1] * 60, WORKED, 4, 1, aim=Aim.SHORTEST)
    calmer = planned([1] * 60, WORKED, 4, 1)

    assert shortest_plan.shut_longest > 60
    assert calmer.shut_longest < 10
    assert shortest_plan.finish == shortest_plan.lower_bound < calmer.finish


def test_of_two_days_of_one_length_the_calmer_is_taken():
    plan = planned([1] * 12, SETS["hands full"], 4, 1, aim=Aim.SHORTEST)

    # Without a look at how long hives stand shut it would be 21 minutes.
    assert (plan.proven, plan.finish, sum(one.shut_long for one in plan.hives)) == (True, 108, 9)


def test_an_unfinished_plan_promises_what_its_last_hive_needs():
    times = dict.fromkeys(("carry", "set_up", "draw", "cool", "open", "wait"), 1)
    work = Work(heats=(5,), loads=(1,), cold_extra=0, heaters=1, people=1, sealed=30, **times)
    state = start_of(work)
    for _ in range(3):
        # 2 to set up, 5 of heat, 30 shut, 1 to open.
        assert _promise(work, state).finish == 38
        state = after(work, state, choices_of(work, state)[0])

    assert state.people == (38,)


def test_plans_come_out_the_same_every_time():
    first = planned([1] * 12, SHORT, 3, 2)
    shortest.cache_clear()
    calmest.cache_clear()

    assert planned([1] * 12, SHORT, 3, 2) == first


def test_what_does_not_help_stays_in_the_car():
    plan = planned([1, 1], WORKED, 12, 2)

    assert len(plan.heaters) <= 2
    assert len(planned([1] * 20, WORKED, 1, 2).people) == 2


# What must hold for every plan.

minutes = st.integers(0, 30)
times_of_a_day = st.builds(
    Times, minutes, minutes, minutes, minutes, minutes, minutes, minutes, minutes, minutes
)
many_loads = st.lists(st.integers(1, 3), min_size=1, max_size=9)
aims = st.sampled_from(Aim)
starts = st.integers(0, 1440)


def apart(spans):
    """Whether spans of time, each not shorter than nothing, do not overlap."""
    ordered = sorted(spans)
    return all(begin <= end for begin, end in ordered) and all(
        one[1] <= other[0] for one, other in zip(ordered, ordered[1:], strict=False)
    )


@calm
@given(many_loads, times_of_a_day, st.integers(1, 4), st.integers(1, 2), aims, starts)
def test_nobody_and_no_heater_is_in_two_places(loads, times, heaters, people, aim, start):
    plan = planned(loads, times, heaters, people, aim=aim, start=start)

    assert all(apart([(one.begins, one.ends) for one in tasks]) for tasks in plan.people)
    assert all(apart([(one.taken_at, one.cool_at) for one in of]) for of in plan.heaters)
    assert len(plan.people) <= people and len(plan.heaters) <= heaters
    assert min(one.begins for tasks in plan.people for one in tasks) >= start == plan.start
    assert max(one.ends for tasks in plan.people for one in tasks) == plan.finish


@calm
@given(many_loads, times_of_a_day, st.integers(1, 4), st.integers(1, 2), aims)
def test_no_step_is_hurried_and_no_hive_opened_before_its_time(loads, times, heaters, people, aim):
    plan = planned(loads, times, heaters, people, aim=aim)
    set_ups = [one.closed_at for one in plan.hives]

    assert set_ups == sorted(set_ups)
    for hive in plan.hives:
        mine = [one for one in plan.loads if one.hive == hive.hive]
        assert hive.opened_at >= hive.open_from == max(hive.heat_to + times.sealed, hive.drawn_at)
        assert hive.heat_from >= hive.closed_at + times.set_up
        assert hive.heat_to == mine[-1].heat_to and hive.drawn_at == mine[-1].drawn_at
        assert {one.heater for one in mine} == {hive.heater}
        for one in mine:
            assert one.drawn_at >= one.heat_to + times.wait + times.draw
            assert one.cool_at == one.drawn_at + times.cool
            assert one.heats == (times.first if one.cold else times.following)


@calm
@given(many_loads, times_of_a_day, st.integers(1, 4), st.integers(1, 2), aims)
def test_every_hive_is_done_exactly_once(loads, times, heaters, people, aim):
    plan = planned(loads, times, heaters, people, aim=aim)
    done = [(one.task, one.hive, one.load) for tasks in plan.people for one in tasks]
    each = [(hive, load) for hive, number in enumerate(loads, 1) for load in range(1, number + 1)]

    assert [one.hive for one in plan.hives] == list(range(1, len(loads) + 1))
    assert sorted((one.hive, one.load) for one in plan.loads) == each
    for task in (DayTask.SET_UP, DayTask.DRAW):
        assert sorted(one[1:] for one in done if one[0] is task) == each
    assert sorted(one[1] for one in done if one[0] is DayTask.OPEN) == list(range(1, len(loads) + 1))
    assert sum(one.cold for one in plan.loads) == sum(bool(of) for of in plan.heaters)


@few_days
@given(st.lists(st.integers(1, 2), min_size=3, max_size=7), times_of_a_day, aims)
def test_the_day_never_grows_with_a_heater_or_a_person(loads, times, aim):
    finish = {(k, p): planned(loads, times, k, p, aim=aim).finish for k in (1, 2, 3, 4) for p in (1, 2)}

    assert all(finish[k + 1, p] <= finish[k, p] for k in (1, 2, 3) for p in (1, 2))
    assert all(finish[k, 2] <= finish[k, 1] for k in (1, 2, 3, 4))


@few_days
@given(st.integers(10, 40), st.sampled_from(list(SETS.values())), aims)
def test_a_long_day_never_grows_with_a_heater_or_a_person(number, times, aim):
    finish = {(k, p): planned([1] * number, times, k, p, aim=aim).finish for k in (2, 3, 4) for p in (1, 2)}

    assert finish[4, 2] <= finish[3, 2] <= finish[2, 2] <= finish[2, 1]
    assert finish[4, 1] <= finish[3, 1] and finish[3, 2] <= finish[3, 1]


wild = st.one_of(st.integers(0, 10**9), st.integers(0, 20), st.none())


@calm
@given(
    st.lists(wild, max_size=6),
    wild,
    wild,
    wild,
    st.integers(0, 10**9),
    st.integers(0, 4),
    st.integers(0, 10**9),
)
def test_any_numbers_give_a_plan_or_a_reason(loads, first, following, cool, heaters, people, hand):
    trial = HeaterTimes(first=first, following=following, cool=cool)
    plan = day_plan(
        [HiveWork(loads=one, heat=first) for one in loads],
        trial,
        heaters=heaters % 14,
        people=people,
        hands=HandTimes(carry=hand, wait=hand),
    )

    assert isinstance(plan, NoPlan) or plan.finish >= plan.lower_bound >= plan.start == 0


@calm
@given(st.integers(0, 10**9), st.integers(0, 10**9))
def test_any_numbers_of_heaters_and_people_give_a_plan_or_a_reason(heaters, people):
    assert isinstance(day_plan(hives(3), TRIAL, heaters=heaters, people=people), NoPlan) == (
        not (1 <= heaters <= HEATERS_MAX and 1 <= people <= 2)
    )
