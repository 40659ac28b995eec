"""Parts of a region's month: each yard in one of them, and none told that others would give away."""

import datetime as dt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from apiaries.models import Brood
from reports._disclosure import publishable
from reports.figures import recompute_all, refresh_marked
from reports.models import RegionMonth, YardMonth
from reports.parts import DIVISIONS, Part, part_masks, shown_parts
from reports.rollup import drifted
from tests.reports.counting import AT, count
from tests.reports.treating import treated
from treatments.actions import cancel_treatment

AUGUST, ON = dt.date(2026, 8, 1), dt.date(2026, 8, 25)
YARDS = st.lists(
    st.tuples(st.integers(0, 5), st.sampled_from(["with", "without", "mixed"]), st.integers(-1, 400)),
    max_size=40,
)


def masks_of(yards):
    brood = np.asarray([brood for _, brood, _ in yards], dtype=str)
    days = np.asarray([days for _, _, days in yards], dtype=np.int64)
    return part_masks(brood == "with", brood == "without", days)


@given(YARDS)
def test_a_yard_is_in_one_part_of_a_division_at_most(yards):
    masks = masks_of(yards)

    for division in DIVISIONS:
        assert sum(masks[part].astype(int) for part in division).max(initial=0) <= 1
    assert sum(masks[part].astype(int) for part in DIVISIONS[1]).tolist() == [1] * len(yards)


@given(YARDS)
def test_whatever_is_left_when_shown_parts_are_taken_away_could_be_shown(yards):
    keeper = np.asarray([keeper for keeper, _, _ in yards], dtype=np.int64)
    masks = masks_of(yards)
    shown = shown_parts(masks, keeper)

    for division in DIVISIONS:
        here = [part for part in division if part in shown]
        for number in range(1 << len(here) if here else 0):
            taken = [masks[part] for place, part in enumerate(here) if number >> place & 1]
            left = ~np.any([np.zeros(len(yards), bool), *taken], axis=0)
            owned = np.unique(keeper[left], return_counts=True)[1].tolist()
            assert not owned or publishable(owned)


def _crossed(one_more):
    """24 yards of 8 keepers: those without brood were treated lately, and so many more were treated lately."""
    return [
        (number % 8, "without" if number < 10 else "with", 5 if number < 10 + one_more else 300)
        for number in range(24)
    ]


@pytest.mark.parametrize(("one_more", "both"), [(0, True), (1, False), (4, False), (5, True)])
def test_two_divisions_do_not_tell_the_yards_by_which_they_differ(one_more, both):
    yards = _crossed(one_more)
    keeper = np.asarray([keeper for keeper, _, _ in yards], dtype=np.int64)

    treated = {Part.TREATED_LATELY, Part.NOT_TREATED}
    brood = {Part.WITH_BROOD, Part.WITHOUT_BROOD} if both else set()
    assert shown_parts(masks_of(yards), keeper) == treated | brood


@pytest.mark.parametrize(
    ("days", "part"),
    [
        (0, Part.TREATED_LATELY),
        (41, Part.TREATED_LATELY),
        (42, Part.TREATED_BEFORE),
        (182, Part.TREATED_BEFORE),
        (183, Part.NOT_TREATED),
        (-1, Part.NOT_TREATED),
    ],
)
def test_days_since_the_treatment(days, part):
    masks = masks_of([(1, "mixed", days)])

    assert [one for one in DIVISIONS[1] if masks[one][0]] == [part]


@pytest.mark.parametrize(
    ("seen", "brood"),
    [
        ([Brood.SOME, Brood.PLENTY], "with"),
        ([Brood.SOME, Brood.UNKNOWN], "with"),
        ([Brood.NONE, Brood.UNKNOWN], "without"),
        ([Brood.NONE, Brood.SOME], "mixed"),
        ([Brood.UNKNOWN, Brood.UNKNOWN], "mixed"),
    ],
)
def test_brood_of_a_yard_is_what_its_colonies_agree_on(cast, seen, brood):
    for colony, one in zip(cast.colonies, seen, strict=False):
        count(colony, ON, 3, brood=one)

    assert YardMonth.objects.get().brood == brood


def test_days_are_from_the_last_treatment_to_the_last_count(reference, cast):
    count(cast.colony, dt.date(2026, 8, 3), 3)
    count(cast.colony, ON, 3)
    treated(cast.colonies[:1], on=dt.date(2026, 7, 1))
    assert YardMonth.objects.get().treated_days == 55

    second = treated(cast.colonies[:1], on=dt.date(2026, 8, 20), saved=AT).treatment
    assert YardMonth.objects.get().treated_days == 5

    cancel_treatment(treatment=second, why="rain", at=AT, by=cast.alice)
    assert YardMonth.objects.get().treated_days == 55
    assert drifted() == []


def test_days_are_right_before_the_year_that_dates_are_counted_from(reference, cast):
    cast.alice_yard.colonies.update(started_on=dt.date(1998, 5, 1))
    for colony in cast.colonies:
        colony.refresh_from_db()
    count(cast.colony, dt.date(1999, 8, 25), 3)
    treated(cast.colonies[:1], on=dt.date(1999, 8, 20), saved=AT)

    assert YardMonth.objects.get().treated_days == 5
    assert drifted() == []


def test_another_yards_treatment_and_a_later_one_are_none(reference, cast):
    count(cast.colony, ON, 3)
    treated(cast.colonies[:1], on=dt.date(2026, 8, 26), saved=AT)
    treated(list(cast.charlie_yard.colonies.all()), on=dt.date(2026, 8, 1))

    assert YardMonth.objects.get().treated_days is None
    assert drifted() == []


def _months(cast):
    rows = RegionMonth.objects.filter(region=cast.north, month=AUGUST, kind="wash")
    return {row.part: row for row in rows}


def test_parts_large_enough_are_told_apart(reference, cast, counted_north, keeper_in):
    for name in ("Ole", "Pia", "Ria", "Sam", "Tim"):
        (yard,) = keeper_in(name, cast.north)
        treated(list(yard.colonies.all())[:1], on=dt.date(2026, 8, 2))
        count(yard.colonies.first(), dt.date(2026, 8, 5), 1)
    refresh_marked(at=AT)

    months = _months(cast)
    assert set(months) == {"all", "treated_lately", "not_treated"}  # nobody looked at brood
    assert (months["treated_lately"].yards, months["not_treated"].yards, months["all"].yards) == (5, 5, 10)
    assert months["treated_lately"].rate < months["all"].rate < months["not_treated"].rate
    assert recompute_all(at=AT) == []


def test_a_small_part_hides_its_whole_division(reference, cast, counted_north):
    treated(cast.colonies[:1], on=dt.date(2026, 8, 2))
    refresh_marked(at=AT)

    months = _months(cast)
    assert months["all"].rate is not None
    assert {part: row.reason for part, row in months.items() if part != "all"} == {
        "treated_lately": "small_part",
        "not_treated": "small_part",
    }
    assert {row.rate for part, row in months.items() if part != "all"} == {None}
