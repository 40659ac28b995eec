"""Published action levels, and how an estimate stands to one. Pure.

A level is kept as its issuer printed it: in its own unit, for its own months and kind of count. What a
published table leaves open stays open (`UNDEFINED`); tables of different issuers are never merged.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from typing import Any, Protocol

from counts._intervals import Prior
from counts._verdicts import Unit
from counts.constants import DEFAULTS

UNDEFINED = "undefined"
"""The band of a value about which the published table says nothing."""


class LevelKind(StrEnum):
    """What a level is about: mites on bees in a jar, mites on a board, or drone cells."""

    JAR = "jar"
    BOARD = "board"
    DRONE_BROOD = "drone_brood"


class LevelUnit(StrEnum):
    """The unit a level is printed in."""

    PER_100_BEES = "per_100_bees"
    PER_10_G = "per_10_g"
    PER_50_G = "per_50_g"
    PER_DAY = "per_day"
    PER_2_DAYS = "per_2_days"
    PERCENT_CELLS = "percent_cells"


AMOUNTS = {
    LevelUnit.PER_100_BEES: 100.0,
    LevelUnit.PER_10_G: 100.0,  # 0.1 g a bee: from memory, Central European practice
    LevelUnit.PER_50_G: 500.0,  # likewise
    LevelUnit.PER_DAY: 1.0,
    LevelUnit.PER_2_DAYS: 2.0,
    LevelUnit.PERCENT_CELLS: 100.0,
}
"""Bees, days or cells that one unit stands for."""


class BroodCondition(StrEnum):
    """Colonies a level is for, where it says so."""

    NONE = "none"
    SOME_OR_PLENTY = "some_or_plenty"


_BROOD = {
    "none": BroodCondition.NONE,
    "some": BroodCondition.SOME_OR_PLENTY,
    "plenty": BroodCondition.SOME_OR_PLENTY,
}


class Standing(StrEnum):
    """How an estimate stands to an action level."""

    BELOW = "below"
    EITHER_SIDE = "either_side"
    ABOVE = "above"
    NOT_ENOUGH = "not_enough"


@dataclass(frozen=True, slots=True)
class Band:
    """A named stretch of a published table, in the level's unit; `high` is infinite for the last one."""

    name: str
    low: float
    high: float
    low_inclusive: bool = True
    high_inclusive: bool = False

    def holds(self, value: float) -> bool:
        """Whether the value lies in this stretch."""
        above = value >= self.low if self.low_inclusive else value > self.low
        return above and (value <= self.high if self.high_inclusive else value < self.high)


@dataclass(frozen=True, slots=True)
class Level:
    """One published action level: act at `act_at` (inclusive or not), in `unit`, in these months."""

    key: str
    issuer: str
    region: str
    kind: LevelKind
    unit: LevelUnit
    act_at: float | None
    act_inclusive: bool
    mark: str
    source: str
    bands: tuple[Band, ...] = ()
    months: tuple[int, int] | None = None
    """First and last month, inclusive; (11, 2) runs over the new year; None is the whole year."""
    brood: BroodCondition | None = None
    only_when: str = ""
    """A condition that no date tells (a phase of the colony, young colonies): never picked by itself."""
    derived_from: str = ""
    """Key of the published level that this one only restates in another unit."""
    year: int | None = None
    note: str = ""

    @property
    def act_rate(self) -> float | None:
        """The action level per bee, day or cell: what estimates are compared with."""
        return None if self.act_at is None else self.act_at / AMOUNTS[self.unit]

    def in_unit(self, rate: float) -> float:
        """A rate per bee, day or cell in the level's own unit; without the noise of floating point."""
        return round(rate * AMOUNTS[self.unit], 9)

    def applies(self, on: dt.date, brood: str | None) -> bool:
        """Whether it is for this date and this brood; a level for one brood state needs that state known."""
        if self.only_when or (self.brood is not None and self.brood is not _BROOD.get(brood or "")):
            return False
        if self.months is None:
            return True
        first, last = self.months
        return first <= on.month <= last if first <= last else on.month >= first or on.month <= last


class Judged(Protocol):
    """An estimate that can be compared: of one sample or of a yard."""

    @property
    def unit(self) -> Unit: ...
    @property
    def comparable(self) -> bool: ...
    def chance_above(self, action_level: float, prior: Prior | None = None) -> float: ...


def levels_for(
    levels: Iterable[Level], kind: LevelKind | str, on: dt.date, brood: str | None = None
) -> tuple[Level, ...]:
    """The levels for this kind of count on this date; `brood` is none, some, plenty, or None if not known.

    Several may apply (two issuers, or one issuer's overlapping months): all are returned, none is preferred.
    Left out are those that only restate another one here, and those that need more than a date (`only_when`).
    """
    given = tuple(levels)
    keys = {level.key for level in given}
    return tuple(
        level
        for level in given
        if level.kind == kind and level.derived_from not in keys and level.applies(on, brood)
    )


def band_of(level: Level, value: float) -> str:
    """The band of a value in the level's own unit; `UNDEFINED` in a gap of the published table."""
    return next((band.name for band in level.bands if band.holds(value)), UNDEFINED)


def acts_on(level: Level, value: float) -> bool | None:
    """Whether the issuer advises acting on a value in the level's unit; None if it prints no action level."""
    if level.act_at is None:
        return None
    return value >= level.act_at if level.act_inclusive else value > level.act_at


def standing(
    estimate: Judged,
    level: Level,
    *,
    prior: Prior | None = None,
    certain_at: float = DEFAULTS.certain_at.value,
) -> Standing:
    """How the estimate stands to the level: above or below only if that is `certain_at` likely.

    `NOT_ENOUGH` for a refused estimate, for one of another kind than the level, or without an action level.
    """
    rate = level.act_rate
    if rate is None or not estimate.comparable or not _same_kind(estimate, level):
        return Standing.NOT_ENOUGH
    chance = estimate.chance_above(rate, prior)
    if chance >= certain_at:
        return Standing.ABOVE
    return Standing.BELOW if chance <= 1.0 - certain_at else Standing.EITHER_SIDE


def _same_kind(estimate: Judged, level: Level) -> bool:
    wanted = {LevelKind.JAR: Unit.PER_BEE, LevelKind.BOARD: Unit.PER_DAY}
    return wanted.get(level.kind) is estimate.unit


def bands_from_text(text: str, act_at: float | None, act_inclusive: bool) -> tuple[Band, ...]:
    """Bands from text like `ok:0-5;watch:5-10;act:10-30;lost:30-`, in rising order. ValueError if it is not.

    Read as such tables are printed ("less than 5, 5 to 10, more than 10, more than 30"): the first band stops
    short of its end and the last begins after its start; the action level itself says which side it is on.
    """
    bands: list[Band] = []
    for part in filter(None, text.split(";")):
        name, _, stretch = part.partition(":")
        low_text, dash, high_text = stretch.partition("-")
        if not (name and dash):
            raise ValueError(f"not a band: {part!r}")
        low, high = float(low_text), float(high_text) if high_text else math.inf
        at_low, at_high = low == act_at, high == act_at
        starts = act_inclusive if at_low else high != math.inf
        ends = not act_inclusive if at_high else low > 0
        bands.append(Band(name, low, high, starts, ends))
    if any(later.low < earlier.high for earlier, later in pairwise(bands)):
        raise ValueError(f"bands overlap: {text!r}")
    return tuple(bands)


def level_from_row(row: Mapping[str, Any]) -> Level:
    """A level from a row of the table of action levels (all strings). ValueError or KeyError if it is odd."""
    act_at = float(row["act_at"]) if row["act_at"] else None
    act_inclusive = {"true": True, "false": False, "": False}[row["act_inclusive"]]
    first, last = row["from_month"], row["to_month"]
    return Level(
        key=row["key"],
        issuer=row["issuer_name"],
        region=row["region"],
        kind=LevelKind(row["kind"]),
        unit=LevelUnit(row["unit"]),
        act_at=act_at,
        act_inclusive=act_inclusive,
        mark=row["mark"],
        source=row["source"],
        bands=bands_from_text(row["bands"], act_at, act_inclusive),
        months=(int(first), int(last)) if first and last else None,
        brood=BroodCondition(row["brood"]) if row["brood"] else None,
        only_when=row["only_when"],
        derived_from=row["derived_from"],
        year=int(row["year"]) if row["year"] else None,
        note=row["note"],
    )
