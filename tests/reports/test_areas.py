"""Pieces of a region on the map: nothing can be taken from them that could not be shown alone."""

from itertools import combinations

import h3
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports._disclosure import publishable
from reports.areas import footprint, given_away, pieces_of

COARSE = h3.latlng_to_cell(43.6, -77.9, 3)
FINE = sorted(h3.cell_to_children(COARSE, 5))
AWAY = h3.latlng_to_cell(48.0, 11.0, 5)
CELLS = ["", FINE[0], FINE[1], FINE[8], FINE[20], FINE[33], AWAY]

YARDS = st.lists(
    st.tuples(st.integers(0, 8), st.sampled_from(CELLS), st.integers(0, 2), st.integers(0, 2)), max_size=60
)


def _laid_out(yards):
    keeper = np.asarray([keeper for keeper, *_ in yards], dtype=np.int64)
    brood = np.asarray([brood for *_, brood, _ in yards], dtype=np.int64)
    days = np.asarray([days for *_, days in yards], dtype=np.int64)
    divisions = [[brood == 0, brood == 1], [days == 0, days == 1, days == 2]]
    return [cell for _, cell, _, _ in yards], keeper, divisions


def _may_be_shown(keeper):
    return len(keeper) == 0 or publishable(np.unique(keeper, return_counts=True)[1].tolist())


def _of(keeper, number):
    """So many yards of that many keepers in turn."""
    return [place % keeper for place in range(number)]


@given(YARDS)
def test_whatever_pieces_are_taken_from_the_region_leave_nothing_or_what_may_be_shown(yards):
    cells, keeper, _ = _laid_out(yards)
    pieces = list(pieces_of(cells, keeper).values())

    for number in range(len(pieces) + 1):
        for some in combinations(pieces, number):
            taken = np.any([np.zeros(len(yards), bool), *some], axis=0)
            if number:
                assert _may_be_shown(keeper[taken]) and taken.any()
                assert _may_be_shown(keeper[~taken])


@given(YARDS)
def test_a_yard_is_in_one_piece_at_most_and_in_the_cell_it_is_named_after(yards):
    cells, keeper, _ = _laid_out(yards)
    pieces = pieces_of(cells, keeper)

    assert sum((mask.astype(int) for mask in pieces.values()), np.zeros(len(yards), int)).max(initial=0) <= 1
    for name, mask in pieces.items():
        for place in np.flatnonzero(mask):
            assert h3.cell_to_parent(cells[place], h3.get_resolution(name)) == name


@given(YARDS)
def test_pieces_and_parts_taken_from_one_another_leave_nothing_or_what_may_be_shown(yards):
    """Every sum that pieces, the whole and a division's groups give, with each weighed -1, 0 or 1: wherever it is the
    sum over some yards, once each, these could be shown."""
    cells, keeper, divisions = _laid_out(yards)
    pieces = list(pieces_of(cells, keeper, divisions).values())[:3]
    if not pieces:
        return
    whole = np.ones(len(yards), int)
    for division in divisions:
        if not all(_may_be_shown(keeper[group]) for group in (*division, ~np.any(division, axis=0))):
            continue  # then no part of it is told
        told = [mask.astype(int) for mask in (*pieces, *division)]
        weights = np.stack(np.meshgrid(*[[-1, 0, 1]] * len(told), indexing="ij"), -1).reshape(-1, len(told))
        for with_whole in (0, 1):
            sums = weights @ np.stack(told) + with_whole * whole
            for one in sums[np.isin(sums, (0, 1)).all(axis=1)]:
                assert _may_be_shown(keeper[one == 1])


def test_two_groups_far_apart_are_two_pieces_at_the_finest_cell():
    keeper = np.asarray(_of(5, 10) + _of(5, 10))
    pieces = pieces_of([FINE[0]] * 10 + [AWAY] * 10, keeper)

    assert {name: int(mask.sum()) for name, mask in pieces.items()} == {FINE[0]: 10, AWAY: 10}


def test_neighbours_that_are_too_few_alone_share_a_coarser_cell():
    siblings = sorted(h3.cell_to_children(h3.cell_to_parent(FINE[0], 4), 5))[:3]
    keeper = np.asarray(_of(3, 3) * 3 + _of(5, 10))
    pieces = pieces_of([cell for cell in siblings for _ in range(3)] + [AWAY] * 10, keeper)

    assert set(pieces) == {h3.cell_to_parent(FINE[0], 4), AWAY}


@pytest.mark.parametrize("left", [1, 4])
def test_a_piece_that_leaves_too_few_is_not_made(left):
    # Ten yards here, and a few elsewhere or nowhere: the ten, taken from the region, would tell the few.
    keeper = np.asarray(_of(5, 10) + [8] * left)

    assert pieces_of([FINE[0]] * 10 + [""] * left, keeper) == {}
    assert pieces_of([FINE[0]] * 10 + [AWAY] * left, keeper) == {}


def test_a_piece_that_would_tell_a_few_untreated_yards_is_given_back():
    keeper = np.asarray(_of(5, 10) + _of(5, 10))
    cells = [FINE[0]] * 10 + [AWAY] * 10
    treated = np.asarray([True] * 10 + [True] + [False] * 9)
    # All of the first piece and one yard of the second are treated: treated less the first piece is that yard.
    assert given_away([np.arange(20) < 10], [treated, ~treated], keeper)
    assert pieces_of(cells, keeper, [[treated, ~treated]]) == {}
    mixed = np.asarray(([True] * 5 + [False] * 5) * 2)
    assert len(pieces_of(cells, keeper, [[mixed, ~mixed]])) == 2


def test_a_region_is_drawn_only_where_three_keepers_counted():
    cells = [FINE[0]] * 3 + [FINE[1]] * 2 + [AWAY]
    drawn = footprint(cells, np.asarray([1, 2, 3, 1, 2, 9]))

    assert drawn == [FINE[0]]
    assert footprint([FINE[0], FINE[20], FINE[33]], np.asarray([1, 2, 3])) == [COARSE]
    assert footprint([FINE[0]] * 5, np.asarray([1, 1, 2, 2, 2])) == []


def test_yards_without_a_cell_or_with_an_odd_one_are_nowhere():
    keeper = np.asarray(_of(5, 10))
    assert pieces_of([""] * 10, keeper) == pieces_of(["no cell"] * 10, keeper) == {}
    assert footprint(["no cell"] * 10, keeper) == []
