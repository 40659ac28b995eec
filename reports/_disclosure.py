"""What of a region's month may be shown without showing one keeper's bees. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from reports.constants import DEFAULTS, Constants

Mask = npt.NDArray[np.bool_]


class SuppressReason(StrEnum):
    """Why there are no figures. That nobody counted is not the same as that too few did, nor as no mites."""

    NO_SAMPLES = "no_samples"
    TOO_FEW_KEEPERS = "too_few_keepers"
    TOO_FEW_YARDS = "too_few_yards"
    ONE_KEEPER_DOMINATES = "one_keeper_dominates"
    SMALL_PART = "small_part"


class CountBand(StrEnum):
    """How many, told so that two tables cannot be taken from one another. None at all has its own word."""

    NONE = "none"
    UNDER_5 = "<5"
    FROM_5 = "5–9"
    FROM_10 = "10–19"
    FROM_20 = "20–49"
    FROM_50 = "50+"


def count_band(number: int) -> CountBand:
    """Band of a number of yards, keepers, colonies or counts."""
    if number <= 0:
        return CountBand.NONE
    uppers = (
        (5, CountBand.UNDER_5),
        (10, CountBand.FROM_5),
        (20, CountBand.FROM_10),
        (50, CountBand.FROM_20),
    )
    return next((band for upper, band in uppers if number < upper), CountBand.FROM_50)


def suppress_reason(
    yards_of_keepers: Sequence[int], constants: Constants = DEFAULTS
) -> SuppressReason | None:
    """Why the figures of a region's month stay hidden; None where they may be shown.

    One number of yards per keeper who counted there. The thresholds are common practice for small counts and
    dominance (definition of primary suppression: https://www.tariffnumber.com/info/abbreviations/12733).
    """
    owned = [number for number in yards_of_keepers if number > 0]
    yards = sum(owned)
    if not owned:
        return SuppressReason.NO_SAMPLES
    if len(owned) < constants.keepers_min.value:
        return SuppressReason.TOO_FEW_KEEPERS
    if yards < constants.yards_min.value:
        return SuppressReason.TOO_FEW_YARDS
    if max(owned) > constants.largest_share_max.value * yards:
        return SuppressReason.ONE_KEEPER_DOMINATES
    return None


def publishable(yards_of_keepers: Sequence[int], constants: Constants = DEFAULTS) -> bool:
    """Whether the figures of a region's month may be shown."""
    return suppress_reason(yards_of_keepers, constants) is None


@dataclass(frozen=True, slots=True)
class HiddenCells:
    """Cells to hide, and the rows and columns that have no second cell to hide: their total goes too."""

    cells: Mask
    rows_without_total: tuple[int, ...]
    columns_without_total: tuple[int, ...]


def hide_small_groups(counts: npt.ArrayLike, primary: npt.ArrayLike) -> HiddenCells:
    """Hide more cells of a table with totals until no hidden one is what its row or column lacks.

    Greedy: each row or column with one hidden cell hides another that is not empty: one in line with cells
    that are hidden already, else the smallest. It does not rule out narrow bounds from several totals at
    once; where totals are not needed, `count_band` without totals is the better way.
    """
    table = np.asarray(counts, dtype=np.int64)
    cells = np.array(primary, dtype=np.bool_) & (table > 0)
    while (further := _next_to_hide(table, cells)) is not None:
        cells[further] = True
    rows = tuple(int(i) for i in np.flatnonzero(cells.sum(axis=1) == 1))
    columns = tuple(int(i) for i in np.flatnonzero(cells.sum(axis=0) == 1))
    return HiddenCells(cells, rows, columns)


def _next_to_hide(table: npt.NDArray[np.int64], cells: Mask) -> tuple[int, int] | None:
    """Smallest shown cell of the first row, else column, that has exactly one hidden cell.

    None when all is well.
    """
    lines = [[(row, column) for column in range(table.shape[1])] for row in range(table.shape[0])]
    lines += [[(row, column) for row in range(table.shape[0])] for column in range(table.shape[1])]
    for line in lines:
        if sum(bool(cells[place]) for place in line) != 1:
            continue
        shown = [place for place in line if table[place] > 0 and not cells[place]]
        if shown:
            rows, columns = np.asarray(cells.any(axis=1)), np.asarray(cells.any(axis=0))
            # In line with cells that are hidden already, so that few more have to follow; then the smallest.
            return min(shown, key=lambda at: (not (rows[at[0]] and columns[at[1]]), int(table[at])))
    return None
