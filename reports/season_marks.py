"""What a season chart shows, as plain values: counts with their ranges, treatments, action levels."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from apiaries.templatetags.recount_words import day, one_decimal, plain, rate_range
from counts.presenters import UNITS
from counts.samples import Kind

MONTHS_SHOWN_MIN = 6
"""A chart never shows fewer months, so that its time can be read like that of others (our choice)."""
KIND_WORDS = {Kind.WASH: "Wash", Kind.ROLL: "Roll", Kind.BOARD: "Board"}
FALL_WORDS = "Board under a treatment"


class Place(StrEnum):
    """The part of the chart a count stands in; counts of two places are never on one axis."""

    JARS = "Washes and rolls"
    BOARDS = "Boards"
    FALL = "Boards under a treatment"


@dataclass(frozen=True, slots=True)
class Point:
    """One count, or one counting day of a yard; per 100 bees or per day. Without `rate` there is no estimate."""

    on: dt.date
    kind: Kind
    raw: str
    rate: float | None = None
    low: float | None = None
    high: float | None = None
    note: str = ""
    none_found: bool = False
    under_treatment: bool = False
    alone: bool = False
    """Of a yard: one colony's own range, because it was the only one counted."""

    @property
    def place(self) -> Place:
        if self.kind is not Kind.BOARD:
            return Place.JARS
        return Place.FALL if self.under_treatment else Place.BOARDS

    @property
    def method(self) -> str:
        return FALL_WORDS if self.place is Place.FALL else KIND_WORDS[self.kind]

    @property
    def unit(self) -> str:
        return UNITS[self.kind]

    @property
    def told(self) -> str:
        """Estimate with its range, what was counted, and when."""
        note = f", {self.note}" if self.note else ""
        if self.none_found:
            figures = f"none found, up to {one_decimal(self.high)} {self.unit}"
        else:
            figures = f"{one_decimal(self.rate)} {self.unit} ({rate_range(self.low, self.high)})"
        return f"{figures}, {self.raw}{note}, on {day(self.on)}"


@dataclass(frozen=True, slots=True)
class Band:
    """A treatment from its first dose to its end, its ingredient in words."""

    first: dt.date
    last: dt.date
    ingredient: str
    name: str
    treatment_id: int
    open: bool


@dataclass(frozen=True, slots=True)
class LevelSpan:
    """The action level over days on which it stays the same; per 100 bees or per day."""

    first: dt.date
    last: dt.date
    level: float
    place: Place

    @property
    def told(self) -> str:
        unit = UNITS[Kind.WASH if self.place is Place.JARS else Kind.BOARD]
        return f"{plain(round(self.level, 6))} {unit} from {day(self.first)} to {day(self.last)}"


@dataclass(frozen=True, slots=True)
class Season:
    """What the chart and the table beside it show."""

    of: str
    since: dt.date
    until: dt.date
    points: Sequence[Point]
    bands: Sequence[Band]
    levels: Sequence[LevelSpan]

    @property
    def rows(self) -> list[Point | Band]:
        """Counts and treatments, the newest first."""
        everything: list[Point | Band] = [*self.points, *self.bands]
        return sorted(everything, key=lambda row: row.on if isinstance(row, Point) else row.first)[::-1]

    @property
    def begins(self) -> dt.date:
        """Where the drawing begins: the month of its first count or treatment, so that no empty year is drawn."""
        months = self.until.year * 12 + self.until.month - MONTHS_SHOWN_MIN
        usual = dt.date(months // 12, months % 12 + 1, 1)
        days = [point.on for point in self.points] + [band.first for band in self.bands]
        return max(self.since, min([day_.replace(day=1) for day_ in days] + [usual]))

    @property
    def shown_levels(self) -> list[LevelSpan]:
        """The levels of what is drawn: not those of boards where there is no board."""
        places = [place for place in Place if self.drawn_in(place)]
        spans = [span for span in self.levels if span.place in places and span.last >= self.begins]
        return [replace(span, first=max(span.first, self.begins)) for span in spans]

    @property
    def drawn(self) -> bool:
        return any(point.rate is not None for point in self.points)

    @property
    def has_one_colony(self) -> bool:
        return any(point.alone for point in self.points)

    @property
    def has_fall(self) -> bool:
        return bool(self.drawn_in(Place.FALL))

    def drawn_in(self, place: Place) -> list[Point]:
        """The counts that stand in a part of the chart."""
        return [point for point in self.points if point.place is place and point.rate is not None]

    @property
    def alt(self) -> str:
        """What the chart shows, for those who do not see it."""
        said = [f"Counts of {self.of} from {day(self.begins)} to {day(self.until)}."]
        for place in Place:
            if mine := self.drawn_in(place):
                said.append(f"{place}: {len(mine)} shown. Last: {mine[-1].told}.")
        if self.bands:
            given = [f"{band.ingredient} from {day(band.first)} to {day(band.last)}" for band in self.bands]
            said.append(f"Treatments: {'; '.join(given)}.")
        if self.shown_levels:
            said.append(f"Action level: {'; '.join(span.told for span in self.shown_levels)}.")
        return " ".join([*said, "The table has every figure."])
