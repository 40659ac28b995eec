"""Marks that would cover each other stand side by side, in order and near their days."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports.season_beside import MOVED_MAX, placed

DAYS = st.lists(st.floats(0, 640), max_size=30).map(sorted)


def test_marks_far_apart_stay_where_they_are():
    assert placed([10.0, 30.0, 90.0], 8) == pytest.approx([10, 30, 90])
    assert placed([], 8) == []


def test_two_of_one_day_stand_around_it():
    assert placed([100.0, 100.0], 8) == pytest.approx([94.8, 105.2])  # 1.3 times 8 apart


def test_neighbours_give_way_on_both_sides():
    assert placed([100.0, 102.0, 200.0], 8) == pytest.approx([95.8, 106.2, 200])


def test_many_of_one_day_stand_closer_rather_than_far_away():
    places = placed([100.0] * 5, 8)

    assert max(places) - 100 == pytest.approx(4.8)  # .3 times 8 apart, as .6 would move the last by 9.6
    assert len(set(places)) == 5


@given(days=DAYS, across=st.floats(4, 8))
def test_order_is_kept_and_no_mark_goes_far(days, across):
    places = placed(days, across)

    assert all(before <= after + 1e-6 for before, after in pairwise(places))
    assert all(abs(place - day) <= MOVED_MAX for place, day in zip(places, days, strict=True))
