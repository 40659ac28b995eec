"""What stands in the way of a treatment, limit by limit; never a guess, and never left out."""

import dataclasses
import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from treatments.possible import (
    BroodNeed,
    InHive,
    Possible,
    Reason,
    Stand,
    Subject,
    WayLimits,
    YardToday,
    possible,
    sorted_by_stand,
)
from treatments.possible_words import STAND_WORDS, SUBJECT_WORDS, check_words, degrees, in_both_scales

ON = dt.date(2026, 8, 12)


def way(**more):
    """A formic acid strip: supers off, highs of 10 to 29.5 on the day and 33 on the two after, a month between."""
    facts = {
        "ingredient": "formic_acid",
        "supers": "off",
        "brood": BroodNeed.ANY,
        "min_temp_c": 10.0,
        "max_temp_c": 29.5,
        "max_first_days_c": 33.0,
        "days_between": 30,
        "stays_in_days": 7,
        "withdrawal_days": 0,
    }
    return WayLimits(**(facts | more))


def yard(**more):
    """Six colonies without supers, brood in all, on a mild day."""
    facts = {
        "on": ON,
        "colonies": 6,
        "with_supers": 0,
        "with_brood": 6,
        "brood_unknown": 0,
        "highs_c": (24.0, 25.0, 26.0),
    }
    return YardToday(**(facts | more))


def check(subject, way_, yard_):
    (found,) = [one for one in possible(way_, yard_).checks if one.subject is subject]
    return found


def test_nothing_in_the_way_is_free():
    assert possible(way(), yard()).stand is Stand.FREE


# facts.md test check 4: UK pack text, formic acid 68.2 g strip: 10-29.5 C on the day of giving.
@pytest.mark.parametrize(
    ("high", "stand", "reason"),
    [
        (30.0, Stand.IN_THE_WAY, Reason.TOO_WARM),
        (29.5, Stand.FREE, Reason.WITHIN),
        (29.4, Stand.FREE, Reason.WITHIN),
        (10.0, Stand.FREE, Reason.WITHIN),
        (9.9, Stand.IN_THE_WAY, Reason.TOO_COLD),
        (None, Stand.FIND_OUT, Reason.DAYS_MISSING),
        (float("nan"), Stand.FIND_OUT, Reason.DAYS_MISSING),
    ],
)
def test_high_of_the_day_is_held_against_the_published_limits(high, stand, reason):
    found = check(Subject.TEMPERATURE, way(), yard(highs_c=(high, 25.0, 25.0)))

    assert (found.stand, found.reason) == (stand, reason)


# the same pack text: above 33 C in the first 3 days brood and queens are lost
@pytest.mark.parametrize(
    ("highs", "stand"),
    [
        ((25, 33, 33), Stand.FREE),
        ((25, 33.1, 20), Stand.IN_THE_WAY),
        ((25, 20, 34), Stand.IN_THE_WAY),
        ((25, 25), Stand.FIND_OUT),
        ((25, 25, 25, 40), Stand.FREE),
    ],
)
def test_first_three_days_have_a_limit_of_their_own(highs, stand):
    assert check(Subject.TEMPERATURE, way(), yard(highs_c=highs)).stand is stand


def test_what_stays_in_is_held_against_every_day_entered():
    thymol = way(max_first_days_c=None, min_temp_c=15.0, max_temp_c=30.0, stays_in_days=14)

    found = check(Subject.TEMPERATURE, thymol, yard(highs_c=(20, 20, 20, 14)))

    assert (found.reason, found.day) == (Reason.TOO_COLD, ON + dt.timedelta(days=3))


def test_vapour_looks_at_the_day_alone():
    vapour = way(max_first_days_c=None, min_temp_c=2.8, max_temp_c=None, stays_in_days=0)

    assert check(Subject.TEMPERATURE, vapour, yard(highs_c=(5, -10))).stand is Stand.FREE


def test_limit_on_one_side_alone_is_a_limit():
    once = {"max_first_days_c": None, "stays_in_days": 0}
    cold = check(Subject.TEMPERATURE, way(**once, max_temp_c=None), yard(highs_c=(9.9,)))
    warm = check(Subject.TEMPERATURE, way(**once, min_temp_c=None), yard(highs_c=(30,)))

    assert (cold.reason, warm.reason) == (Reason.TOO_COLD, Reason.TOO_WARM)


def test_first_day_without_a_high_is_the_one_asked_for():
    found = check(Subject.TEMPERATURE, way(), yard(highs_c=(25, 25, None)))

    assert (found.reason, found.day) == (Reason.DAYS_MISSING, ON + dt.timedelta(days=2))


def test_unless_told_nothing_stays_in():
    bare = WayLimits(ingredient="x", supers="allowed", brood=BroodNeed.ANY, min_temp_c=10.0)

    assert check(Subject.TEMPERATURE, bare, yard(highs_c=(20, -5))).stand is Stand.FREE
    told = yard(supers_next_on=ON)
    assert check(Subject.CLEAR_DATE, dataclasses.replace(bare, withdrawal_days=0), told).day == ON


@pytest.mark.parametrize(
    ("supers", "on", "stand"),
    [
        ("off", 3, Stand.IN_THE_WAY),
        ("off", 0, Stand.FREE),
        ("allowed", 3, Stand.FREE),
        ("label_decides", 3, Stand.FIND_OUT),
        ("label_decides", 0, Stand.FREE),
    ],
)
def test_supers(supers, on, stand):
    assert check(Subject.SUPERS, way(supers=supers), yard(with_supers=on)).stand is stand


@pytest.mark.parametrize(
    ("need", "there", "unknown", "stand"),
    [
        (BroodNeed.ONLY_WITHOUT, 1, 0, Stand.IN_THE_WAY),
        (BroodNeed.ONLY_WITHOUT, 0, 1, Stand.FIND_OUT),
        (BroodNeed.ONLY_WITHOUT, 0, 0, Stand.FREE),
        (BroodNeed.BEST_WITHOUT, 1, 5, Stand.NOTE),
        (BroodNeed.BEST_WITHOUT, 0, 2, Stand.FIND_OUT),
        (BroodNeed.NEEDED, 0, 0, Stand.IN_THE_WAY),
        (BroodNeed.NEEDED, 0, 2, Stand.FIND_OUT),
        (BroodNeed.NEEDED, 2, 0, Stand.FREE),
        (BroodNeed.ANY, 2, 2, Stand.FREE),
    ],
)
def test_brood(need, there, unknown, stand):
    assert check(Subject.BROOD, way(brood=need), yard(with_brood=there, brood_unknown=unknown)).stand is stand


def dose(first, last, ingredient="formic_acid"):
    return InHive(ingredient, ON + dt.timedelta(days=first), ON + dt.timedelta(days=last))


@pytest.mark.parametrize(
    ("doses", "stand"),
    [
        ([dose(-3, 4)], Stand.IN_THE_WAY),
        ([dose(-3, 0)], Stand.IN_THE_WAY),
        ([dose(-3, -1)], Stand.FREE),
        ([dose(-3, 40, "amitraz")], Stand.FIND_OUT),
        ([dose(1, 8)], Stand.FREE),
    ],
)
def test_what_is_still_in_the_hives(doses, stand):
    assert check(Subject.STILL_IN, way(), yard(doses=doses)).stand is stand


@pytest.mark.parametrize(
    ("ago", "between", "stand"),
    [(29, 30, Stand.IN_THE_WAY), (30, 30, Stand.FREE), (5, None, Stand.NOTE), (0, 30, Stand.IN_THE_WAY)],
)
def test_gap_since_the_last_dose(ago, between, stand):
    found = check(Subject.INTERVAL, way(days_between=between), yard(doses=[dose(-ago, -ago)]))

    assert (found.stand, found.found) == (stand, ago)


def test_another_ingredient_keeps_no_gap():
    assert check(Subject.INTERVAL, way(), yard(doses=[dose(-1, -1, "thymol")])).stand is Stand.FREE


@pytest.mark.parametrize(
    ("more", "days", "reason"),
    [
        ({}, 7, Reason.WITHIN),
        ({}, 6, Reason.LATE_FOR_SUPERS),
        ({"withdrawal_days": 14}, 20, Reason.LATE_FOR_SUPERS),
        ({"withdrawal_days": 14}, 21, Reason.WITHIN),
        ({"withdrawal_days": None}, 90, Reason.WITHDRAWAL_UNKNOWN),
        ({"stays_in_days": None}, 90, Reason.STAY_UNKNOWN),
    ],
)
def test_clear_date_against_the_day_supers_go_on(more, days, reason):
    found = check(Subject.CLEAR_DATE, way(**more), yard(supers_next_on=ON + dt.timedelta(days=days)))

    assert found.reason is reason


@pytest.mark.parametrize(
    ("first", "last", "reason"),
    [
        (ON, ON, Reason.WITHIN),
        (ON + dt.timedelta(days=1), None, Reason.NOT_YET_IN_FORCE),
        (None, ON - dt.timedelta(days=1), Reason.NO_LONGER_IN_FORCE),
    ],
)
def test_label_holds_between_its_days(first, last, reason):
    assert check(Subject.LABEL, way(valid_from=first, valid_to=last), yard()).reason is reason


def test_words_name_the_limit_in_both_scales():
    found = check(Subject.TEMPERATURE, way(), yard(highs_c=(30.0, 20, 20)))

    assert (
        check_words(found) == "30 °C (86 °F) expected on 12 Aug 2026; at most 29.5 °C (85.1 °F) is published."
    )
    assert degrees(2.8) == "2.8 °C (37 °F)"


days = st.integers(-400, 400).map(lambda n: ON + dt.timedelta(days=n))
numbers = st.none() | st.floats()
ways = st.builds(
    WayLimits,
    ingredient=st.sampled_from(["formic_acid", "thymol"]),
    supers=st.sampled_from(["off", "allowed", "label_decides"]),
    brood=st.sampled_from(BroodNeed),
    valid_from=st.none() | days,
    valid_to=st.none() | days,
    min_temp_c=numbers,
    max_temp_c=numbers,
    max_first_days_c=numbers,
    days_between=st.none() | st.integers(0, 10**6),
    stays_in_days=st.none() | st.integers(0, 365),
    withdrawal_days=st.none() | st.integers(0, 365),
)
yards = st.builds(
    YardToday,
    on=st.just(ON),
    colonies=st.integers(0, 10**9),
    with_supers=st.integers(0, 10**9),
    with_brood=st.integers(0, 10**9),
    brood_unknown=st.integers(0, 10**9),
    doses=st.lists(st.builds(InHive, st.sampled_from(["formic_acid", "thymol"]), days, days), max_size=4),
    highs_c=st.lists(numbers, max_size=8),
    supers_next_on=st.none() | days,
)


@given(ways, yards)
def test_every_subject_is_looked_at_once_and_has_words(one, other):
    found = possible(one, other)

    assert [each.subject for each in found.checks] == list(Subject)
    for each in found.checks:
        words = check_words(each)
        assert words and "{" not in words and "nan" not in words
        assert SUBJECT_WORDS[each.subject]
    assert STAND_WORDS[found.stand]
    assert found.stand in {each.stand for each in found.checks}


@given(ways, yards)
def test_taking_supers_off_never_makes_it_worse(one, other):
    order = list(Stand)
    bare = YardToday(
        other.on,
        other.colonies,
        0,
        other.with_brood,
        other.brood_unknown,
        other.doses,
        other.highs_c,
        other.supers_next_on,
    )

    assert order.index(possible(one, bare).stand) <= order.index(possible(one, other).stand)


def test_what_is_not_possible_comes_last_and_is_never_left_out():
    found = [
        ("off", possible(way(), yard(with_supers=2))),
        ("on", possible(way(supers="allowed"), yard(with_supers=2))),
    ]

    assert [key for key, _ in sorted_by_stand(found)] == ["on", "off"]
    assert sorted_by_stand([("none", Possible(()))])[0][1].stand is Stand.FREE


@pytest.mark.parametrize(
    ("limit", "words"),
    [
        ("29.4", "29.4 °C (85 °F)"),  # 85 °F turned into Celsius
        ("10-29.4", "10-29.4 °C (50-85 °F)"),
        ("29.5", "29.5 °C (85.1 °F)"),  # of a label in Celsius: not rounded across
        ("2.8", "2.8 °C (37 °F)"),
        ("26", "26 °C (78.8 °F)"),
        ("read the label", "read the label"),
    ],
)
def test_a_published_temperature_is_told_in_both_scales(limit, words):
    assert in_both_scales(limit) == words
