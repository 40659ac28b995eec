"""What a season chart shows, as plain values: counts with their ranges, treatments, action levels."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from apiaries.language import mark, say
from apiaries.templatetags.recount_words import day, one_decimal, plain, rate_range
from counts.presenters import UNITS
from counts.samples import Kind

MONTHS_SHOWN_MIN = 6
"""A chart never shows fewer months, so that its time can be read like that of others (our choice)."""
KIND_WORDS = {Kind.WASH: mark("Wash"), Kind.ROLL: mark("Roll"), Kind.BOARD: mark("Board")}
FALL_WORDS = mark("Board under a treatment")


class Place(StrEnum):
    """The part of the chart a count stands in; counts of two places are never on one axis."""

    JARS = "jars"
    BOARDS = "boards"
    FALL = "fall"


PLACE_SENTENCES = {
    Place.JARS: mark("Washes and rolls: {shown} shown. Last: {last}."),
    Place.BOARDS: mark("Boards: {shown} shown. Last: {last}."),
    Place.FALL: mark("Boards under a treatment: {shown} shown. Last: {last}."),
}


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
        return say(FALL_WORDS if self.place is Place.FALL else KIND_WORDS[self.kind])

    @property
    def unit(self) -> str:
        return say(UNITS[self.kind])

    @property
    def told(self) -> str:
        """Estimate with its range, what was counted, and when."""
        if self.none_found:
            figures = say("none found, up to {most} {unit}", most=one_decimal(self.high), unit=self.unit)
        else:
            figures = f"{one_decimal(self.rate)} {self.unit} ({rate_range(self.low, self.high)})"
        facts = f"{figures}, {self.raw}" + (f", {self.note}" if self.note else "")
        return say("{facts}, on {day}", facts=facts, day=day(self.on))


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
        unit = say(UNITS[Kind.WASH if self.place is Place.JARS else Kind.BOARD])
        level = f"{plain(round(self.level, 6))} {unit}"
        return _over_days(level, self.first, self.last)


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
        said = [
            say(
                "Counts of {what} from {first} to {last}.",
                what=self.of,
                first=day(self.begins),
                last=day(self.until),
            )
        ]
        for place in Place:
            if mine := self.drawn_in(place):
                said.append(say(PLACE_SENTENCES[place], shown=len(mine), last=mine[-1].told))
        if self.bands:
            given = [_over_days(band.ingredient, band.first, band.last) for band in self.bands]
            said.append(say("Treatments: {given}.", given="; ".join(given)))
        if self.shown_levels:
            levels = "; ".join(span.told for span in self.shown_levels)
            said.append(say("Action level: {levels}.", levels=levels))
        return " ".join([*said, say("The table has every figure.")])


def _over_days(what: str, first: dt.date, last: dt.date) -> str:
    return say("{what} from {first} to {last}", what=what, first=day(first), last=day(last))
