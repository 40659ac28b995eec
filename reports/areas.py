"""Pieces of a region's month that a map may show beside the region's own figure. Pure.

Whoever sees a region's figure and those of some of its pieces can take the ones from the other. So pieces are made only
where each of them, and what is left of the region when all are taken away, could be shown alone; then any of them
together, and what they leave, could be too: what holds of two groups without a common yard (three keepers, five yards,
no keeper with most of them) holds of both together. Parts of the same month (by brood, by treatment) are told as well:
a piece may not, with them, give away fewer yards than could be shown.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import combinations

import h3
import numpy as np
import numpy.typing as npt

from reports._disclosure import suppress_reason
from reports.constants import DEFAULTS, Constants

Mask = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]

RESOLUTIONS = (5, 4, 3)
"""From yards' own cells of about 250 km² to 12,000 km² (H3 documentation, table of average cell areas)."""
NOWHERE = 0
"""Where no cell of a yard is known."""


def pieces_of(
    cells: Sequence[str],
    keeper: Ints,
    divisions: Sequence[Sequence[Mask]] = (),
    constants: Constants = DEFAULTS,
) -> dict[str, Mask]:
    """The yards of each piece, by its H3 cell; none where the region can only be shown whole.

    `cells`: each yard's own, empty where it is not known. `divisions`: those of the same yards that are told as well,
    each as groups without a common yard.
    """
    whose, named = _numbered(keeper), [_at(cells, resolution) for resolution in RESOLUTIONS]
    best: dict[int, Mask] = {}
    for start in range(len(named)):
        made = _made(named[start:], whose, divisions, constants)
        if len(made) > len(best):
            best = made
    return {str(h3.int_to_str(cell)): mask for cell, mask in best.items()}


def footprint(cells: Sequence[str], keeper: Ints, constants: Constants = DEFAULTS) -> list[str]:
    """The cells to draw a region in that is shown whole: none in which fewer keepers counted than may be told."""
    whose, found = _numbered(keeper), []
    left = np.ones(len(whose), np.bool_)
    for named in (_at(cells, resolution) for resolution in RESOLUTIONS):
        taken = [cell for cell, own in _groups(named, whose, left) if len(own) >= constants.keepers_min.value]
        left &= ~np.isin(named, taken)
        found += [str(h3.int_to_str(cell)) for cell in taken]
    return found


def given_away(
    pieces: Sequence[Mask], division: Sequence[Mask], keeper: Ints, constants: Constants = DEFAULTS
) -> bool:
    """Whether pieces and the groups of a division, taken from one another, leave too few yards.

    A difference can be taken only where groups lie wholly within pieces, or pieces within groups. Between two divisions
    of all yards other sums than these tell nothing more (the table of both is a transport problem).
    """
    if len(keeper) == 0:
        return False
    whose = _numbered(keeper)
    piece_of, group_of = _place_in(pieces, len(whose)), _place_in(division, len(whose))
    meet = np.zeros((piece_of.max() + 1, group_of.max() + 1), np.bool_)
    meet[piece_of, group_of] = True
    for taken in _some(np.flatnonzero(meet.any(axis=0)), meet.shape[1]):
        around = np.asarray(meet[:, taken].any(axis=1))
        within = np.asarray(~meet[:, ~taken].any(axis=1))
        for some in (around[piece_of] & ~taken[group_of], taken[group_of] & ~within[piece_of]):
            if not _fit(whose[some], constants):
                return True
    return False


def _made(
    named: Sequence[Ints], whose: Ints, divisions: Sequence[Sequence[Mask]], constants: Constants
) -> dict[int, Mask]:
    """Greedy: the finest cells that could be shown, then coarser ones of what is left; then the smallest are given
    back until what is left could be shown too."""
    left = np.ones(len(whose), np.bool_)
    made: dict[int, Mask] = {}
    for names in named:
        fit = [cell for cell, own in _groups(names, whose, left) if suppress_reason(own, constants) is None]
        made |= {cell: left & (names == cell) for cell in fit}
        left &= ~np.isin(names, fit)
    for cell in sorted(made, key=lambda cell: (int(made[cell].sum()), cell)):
        if _fit(whose[left], constants) and not any(
            given_away(list(made.values()), division, whose, constants) for division in divisions
        ):
            return made
        left |= made.pop(cell)
    return made


def _groups(named: Ints, whose: Ints, left: Mask) -> Iterator[tuple[int, list[int]]]:
    """The cells that have yards left, each with the number of yards of every keeper in it; yards without a cell are
    nowhere."""
    there = left & (named != NOWHERE)
    if not there.any():
        return
    known, place = np.unique(named[there], return_inverse=True)
    wide = int(whose.max()) + 1
    pairs, yards = np.unique(place * wide + whose[there], return_counts=True)
    begins = np.searchsorted(pairs, np.arange(len(known)) * wide)
    for cell, own in zip(known.tolist(), np.split(yards, begins[1:]), strict=True):
        yield cell, own.tolist()


def _some(groups: Ints, number: int) -> Iterator[Mask]:
    """Some, but not all, of the groups."""
    for taken in range(1, len(groups)):
        for some in combinations(groups.tolist(), taken):
            mask = np.zeros(number, np.bool_)
            mask[list(some)] = True
            yield mask


def _place_in(groups: Sequence[Mask], yards: int) -> Ints:
    """For each yard the place of its group; one more for those in none."""
    place = np.full(yards, len(groups), dtype=np.int64)
    for number, mask in enumerate(groups):
        place[mask] = number
    return place


def _numbered(keeper: Ints) -> Ints:
    return np.asarray(np.unique(keeper, return_inverse=True)[1], dtype=np.int64)


def _fit(whose: Ints, constants: Constants) -> bool:
    """Whether no yard is left, or what is left could be shown."""
    owned = np.bincount(whose)
    return len(whose) == 0 or suppress_reason(owned[owned > 0].tolist(), constants) is None


def _at(cells: Sequence[str], resolution: int) -> Ints:
    return np.asarray([_parent(cell, resolution) for cell in cells], dtype=np.int64)


@lru_cache(maxsize=65536)
def _parent(cell: str, resolution: int) -> int:
    """The cell of that resolution around a cell; nowhere if it is none, or coarser already."""
    if not h3.is_valid_cell(cell) or h3.get_resolution(cell) < resolution:
        return NOWHERE
    return int(h3.str_to_int(h3.cell_to_parent(cell, resolution)))
