"""What the page Region by month shows: one cell per region and month, in words where there is no figure."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from urllib.parse import urlencode

from django.db.models import Max, Min

from apiaries.models import Club, Person, Region
from apiaries.templatetags.recount_words import month_year, one_decimal
from apiaries.zones import zone_of
from counts.action_levels import Level
from counts.samples import Kind
from reports.charts import MONTHS, Mark
from reports.constants import DEFAULTS
from reports.figures import level_of_month, levels_of
from reports.models import RegionMonth, RegionMonthMark
from reports.parts import Part
from reports.pressure import SuppressReason

KIND_WORDS = {Kind.WASH: "Washes", Kind.ROLL: "Rolls", Kind.BOARD: "Boards"}
UNITS = {Kind.WASH: "per 100 bees", Kind.ROLL: "per 100 bees", Kind.BOARD: "per day"}
PER = {Kind.WASH: 100.0, Kind.ROLL: 100.0, Kind.BOARD: 1.0}
HIDDEN_WORDS = {
    SuppressReason.TOO_FEW_KEEPERS: "too few keepers",
    SuppressReason.TOO_FEW_YARDS: "too few yards",
    SuppressReason.ONE_KEEPER_DOMINATES: "mostly one keeper",
    SuppressReason.SMALL_PART: "part too small",
}


@dataclass(frozen=True)
class Choice:
    """What the reader asked to see."""

    kind: Kind
    year: int
    region: Region | None

    @property
    def query(self) -> str:
        """The same as a query of an address."""
        asked = {"kind": self.kind.value, "year": self.year}
        return urlencode(asked | ({"region": self.region.pk} if self.region else {}))


@dataclass(frozen=True)
class Cell:
    """One region's month. Exactly one of three: a figure, a word why it is hidden, or no samples at all."""

    month: dt.date
    region: Region
    row: RegionMonth | None
    level: Level | None
    """The action level that the share of yards is about, if one is chosen or the club's issuer has just one."""
    per: float
    unit: str

    @property
    def hidden(self) -> str:
        """Why the figures are not shown; empty where they are, or where there is nothing."""
        return HIDDEN_WORDS[SuppressReason(self.row.reason)] if self.row and self.row.reason else ""

    @property
    def shown(self) -> bool:
        return self.row is not None and not self.row.reason and self.row.rate is not None

    @property
    def rate(self) -> float | None:
        return self._in_unit(self.row.rate if self.row else None)

    @property
    def low(self) -> float | None:
        return self._in_unit(self.row.low if self.row else None)

    @property
    def high(self) -> float | None:
        return self._in_unit(self.row.high if self.row else None)

    @property
    def median(self) -> float | None:
        return self._in_unit(self.row.median if self.row else None)

    @property
    def none_found(self) -> bool:
        return self.shown and self.row is not None and self.row.mites == 0

    @property
    def level_rate(self) -> float | None:
        """The action level that the share is about, in the page's unit."""
        return self._in_unit(self.level.act_rate if self.level else None)

    @property
    def share(self) -> str:
        """The share of yards above the level in whole per cent; never a bare 0 or 100."""
        if self._shares is None:
            return ""
        whole = round(self._shares[0] * 100)
        return "<1 %" if whole < 1 else ">99 %" if whole > 99 else f"{whole} %"

    @property
    def share_range(self) -> str:
        if self._shares is None:
            return ""
        _, low, high = self._shares
        return f"{round(low * 100)} to {round(high * 100)} %"

    @property
    def _shares(self) -> tuple[float, float, float] | None:
        found = self.row.shares.get(self.level.key) if self.row and self.level else None
        return tuple(found) if found else None

    def _in_unit(self, rate: float | None) -> float | None:
        return None if rate is None else rate * self.per


@dataclass(frozen=True)
class Line:
    """One month across the regions."""

    month: dt.date
    cells: Sequence[Cell]

    @property
    def is_empty(self) -> bool:
        """Whether nobody logged anything in any of the regions."""
        return not any(cell.row for cell in self.cells)


@dataclass(frozen=True)
class RegionTable:
    """The figures of a year: lines from January on, cells in the order of the regions."""

    choice: Choice
    regions: Sequence[Region]
    lines: Sequence[Line]
    unit: str
    as_of: dt.datetime | None
    waiting_since: dt.datetime | None
    levels: Sequence[Level]
    """The action levels that shares on the page are about."""

    @property
    def cells(self) -> list[Cell]:
        return [cell for line in self.lines for cell in line.cells]

    @property
    def folded(self) -> list[tuple[str, Line | None]]:
        """The lines, each with its month in words; months in a row in which nobody counted are one line, without
        cells."""
        told: list[tuple[str, Line | None]] = []
        for empty, group in groupby(self.lines, key=lambda line: line.is_empty):
            lines = list(group)
            if empty:
                told.append((_span(lines[0].month, lines[-1].month), None))
            else:
                told += [(month_year(line.month), line) for line in lines]
        return told

    @property
    def has_counts(self) -> bool:
        return any(cell.row for cell in self.cells)

    @property
    def marks(self) -> list[Mark]:
        """What the chart draws."""
        return [
            Mark(
                cell.region.name,
                MONTHS[cell.month.month - 1],
                cell.rate,
                cell.low,
                cell.high,
                cell.level_rate,
            )
            for cell in self.cells
            if cell.shown and cell.rate is not None and cell.low is not None and cell.high is not None
        ]

    @property
    def drawn_regions(self) -> list[str]:
        """Names of the regions that have something to draw."""
        drawn = {mark.region for mark in self.marks}
        return [region.name for region in self.regions if region.name in drawn]

    @property
    def alt(self) -> str:
        """What the chart says, for those who do not see it."""
        said = [f"{KIND_WORDS[self.choice.kind]} in {self.choice.year}, mites {self.unit}."]
        for name in self.drawn_regions:
            marks = [mark for mark in self.marks if mark.region == name]
            top = max(marks, key=lambda mark: mark.rate)
            last = marks[-1]
            said.append(
                f"{name}: highest in {_told(top)}{'' if top is last else f', last in {_told(last)}'}."
            )
        return " ".join([*said, "The table has every figure."])


def region_table(person: Person, club: Club, choice: Choice, *, at: dt.datetime) -> RegionTable:
    """The table for one kind and year. Six queries, however many regions and months there are."""
    all_regions = list(club.regions.all())
    regions = [choice.region] if choice.region else all_regions
    rows = RegionMonth.objects.filter(
        region__in=regions, kind=choice.kind, month__year=choice.year, part=Part.ALL, frozen_at=None
    )
    by_place = {(row.region_id, row.month): row for row in rows}
    levels = levels_of(club)
    zone = zone_of(person.time_zone)
    per, unit = PER[choice.kind], UNITS[choice.kind]
    lines = [
        Line(
            month,
            [
                Cell(month, region, row, level_of_month(levels, choice.kind, month), per, unit)
                for region in regions
                for row in (by_place.get((region.pk, month)),)
            ],
        )
        for month in _months(choice.year, by_place, today=at.astimezone(zone).date())
    ]
    as_of = max((row.computed_at for row in by_place.values()), default=None)
    waiting = RegionMonthMark.objects.filter(region__in=all_regions).aggregate(first=Min("marked_at"))[
        "first"
    ]
    used = {cell.level.key: cell.level for line in lines for cell in line.cells if cell.level and cell.share}
    return RegionTable(
        choice=choice,
        regions=regions,
        lines=lines,
        unit=unit,
        as_of=as_of.astimezone(zone) if as_of else None,
        waiting_since=waiting.astimezone(zone) if waiting else None,
        levels=list(used.values()),
    )


def years_of(club: Club, today: dt.date) -> list[int]:
    """Years that have figures, the newest first, with the present one."""
    found = RegionMonth.objects.filter(region__club=club).aggregate(first=Min("month"), last=Max("month"))
    first = found["first"].year if found["first"] else today.year
    last = max(found["last"].year if found["last"] else today.year, today.year)
    return list(range(last, first - 1, -1))


def hiding_rule() -> str:
    """When figures are hidden, in words, from the constants that decide it."""
    few, yards = int(DEFAULTS.keepers_min.value), int(DEFAULTS.yards_min.value)
    share = round(DEFAULTS.largest_share_max.value * 100)
    return f"fewer than {few} keepers or {yards} yards were counted, or one keeper has more than {share} % of them"


def _months(
    year: int, by_place: Mapping[tuple[int, dt.date], RegionMonth], *, today: dt.date
) -> list[dt.date]:
    """January to December, but not beyond today (or what has figures)."""
    last = max([month for _, month in by_place] + [today.replace(day=1)])
    return [month for number in range(1, 13) if (month := dt.date(year, number, 1)) <= last]


def _span(first: dt.date, last: dt.date) -> str:
    return month_year(first) if first == last else f"{MONTHS[first.month - 1]} to {month_year(last)}"


def _told(mark: Mark) -> str:
    return f"{mark.month} with {one_decimal(mark.rate)} ({one_decimal(mark.low)} to {one_decimal(mark.high)})"
