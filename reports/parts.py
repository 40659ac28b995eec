"""The parts of a region's month that are told apart: by brood, and by how long ago yards were treated. Pure.

A yard is in one part of each division, so no yard has more than one vote. A division is shown whole or not at all:
where one of its parts, or what is left over, is too small to be shown, taking the others from the whole would show it.
Both are shown only where no part of one, taken from parts of the other that hold it, leaves too few yards: where all
but one of the yards without brood were treated lately, these two parts would tell that one's count.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from reports._disclosure import suppress_reason
from reports.areas import given_away
from reports.constants import DEFAULTS, Constants

Mask = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]


class Part(StrEnum):
    """All yards of a region's month, or some of them."""

    ALL = "all"
    WITH_BROOD = "with_brood"
    WITHOUT_BROOD = "without_brood"
    TREATED_LATELY = "treated_lately"
    TREATED_BEFORE = "treated_before"
    NOT_TREATED = "not_treated"


DIVISIONS = (
    (Part.WITH_BROOD, Part.WITHOUT_BROOD),
    (Part.TREATED_LATELY, Part.TREATED_BEFORE, Part.NOT_TREATED),
)


def part_masks(
    with_brood: Mask, without_brood: Mask, treated_days: Ints, constants: Constants = DEFAULTS
) -> dict[Part, Mask]:
    """Which yards are in which part. `treated_days`: since the yard's last treatment, below 0 if none is noted."""
    lately, before = constants.treated_lately_days.value, constants.treated_before_days.value
    noted = treated_days >= 0
    return {
        Part.WITH_BROOD: with_brood & ~without_brood,
        Part.WITHOUT_BROOD: without_brood & ~with_brood,
        Part.TREATED_LATELY: noted & (treated_days < lately),
        Part.TREATED_BEFORE: noted & (treated_days >= lately) & (treated_days < before),
        Part.NOT_TREATED: ~noted | (treated_days >= before),
    }


def shown_parts(masks: Mapping[Part, Mask], keeper: Ints, constants: Constants = DEFAULTS) -> set[Part]:
    """The parts that may be shown beside the whole: of a division all that have yards, or none. Where the two divisions
    cannot both be shown, it is the one by treatments."""
    whole = [_groups(masks, division) for division in DIVISIONS]
    safe = [all(_may_be_shown(keeper[group], constants) for group in groups) for groups in whole]
    if all(safe) and given_away(whole[0], whole[1], keeper, constants):
        safe[0] = False
    return {
        part
        for division, fine in zip(DIVISIONS, safe, strict=True)
        for part in division
        if fine and masks[part].any()
    }


def _groups(masks: Mapping[Part, Mask], division: Sequence[Part]) -> list[Mask]:
    """The parts of a division that have yards, and what is left over."""
    taken = [masks[part] for part in division]
    rest = ~np.any(taken, axis=0)
    return [group for group in (*taken, rest) if group.any()]


def _may_be_shown(keeper: Ints, constants: Constants) -> bool:
    owned = np.bincount(keeper)
    return suppress_reason(owned[owned > 0].tolist(), constants) is None
