"""What the page of published months shows: what was published and nothing else, numbers as bands only."""

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import groupby
from urllib.parse import urlencode

from django.db.models import Max, Min

from apiaries.language import month_short, say, say_as
from apiaries.models import Club, Region
from apiaries.templatetags.recount_words import month_year
from apiaries.zones import zone_of
from counts.action_levels import Level
from counts.models import ActionLevel
from counts.samples import Kind
from reports.bulletin_figures import looked_at_words
from reports.charts import Mark, chart_alt, mark_of
from reports.constants import DEFAULTS
from reports.heat import is_uncertain, share_words
from reports.kinds import HIDDEN_WORDS, KIND_WORDS, PER, UNITS
from reports.models import Publication, RegionMonth
from reports.parts import Part
from reports.pressure import CountBand, SuppressReason, count_band
from reports.publishing import PUBLISHED_ON, last_due, published_on


@dataclass(frozen=True)
class PublishedCell:
    """One region's month as it was published: a figure, a word why it is hidden, or nothing."""

    region: Region
    row: RegionMonth | None
    level: Level | None
    """What the share is about."""
    least_keepers: int = 0
    """Fewer are hidden, beyond what was hidden when it was published."""

    @property
    def reason(self) -> SuppressReason | None:
        """Why the figures are not shown; None where they are, or where there is nothing."""
        if self.row is None:
            return None
        if self.row.reason:
            return SuppressReason(self.row.reason)
        return SuppressReason.TOO_FEW_KEEPERS if self.row.keepers < self.least_keepers else None

    @property
    def hidden(self) -> str:
        """The same in words."""
        return say(HIDDEN_WORDS[self.reason]) if self.reason else ""

    @property
    def shown(self) -> bool:
        return self.row is not None and self.reason is None and self.row.rate is not None

    @property
    def none_found(self) -> bool:
        return self.shown and self.row is not None and self.row.mites == 0

    @property
    def uncertain(self) -> bool:
        """Whether its range is wide beside it, or few yards stand behind it; how alike those are is not published."""
        row = self.row
        if not self.shown or row is None or row.rate is None or row.low is None or row.high is None:
            return False
        return is_uncertain(row.rate, row.low, row.high, row.yards)

    @property
    def rate(self) -> float | None:
        return self._told(self.row.rate if self.row else None)

    @property
    def low(self) -> float | None:
        return self._told(self.row.low if self.row else None)

    @property
    def high(self) -> float | None:
        return self._told(self.row.high if self.row else None)

    @property
    def median(self) -> float | None:
        return self._told(self.row.median if self.row else None)

    @property
    def level_rate(self) -> float | None:
        return self._told(self.level.act_rate if self.level else None)

    @property
    def share(self) -> str:
        """The share of yards above the level in whole per cent; never a bare 0 or 100."""
        return share_words(*self._share, self.row.yards)[0] if self._share and self.row else ""

    @property
    def share_range(self) -> str:
        return share_words(*self._share, self.row.yards)[1] if self._share and self.row else ""

    @property
    def share_ends(self) -> tuple[int, int] | None:
        """The range of the share in whole per cent, rounded outward."""
        if self._share is None:
            return None
        return math.floor(self._share[1] * 100), math.ceil(self._share[2] * 100)

    @property
    def keepers(self) -> str:
        return _band(self.row.keepers if self.row else 0)

    @property
    def yards(self) -> str:
        return _band(self.row.yards if self.row else 0)

    @property
    def colonies(self) -> str:
        return _band(self.row.colonies if self.row else 0)

    @property
    def counts(self) -> str:
        return _band(self.row.samples if self.row else 0)

    @property
    def looked_at(self) -> str:
        """About how many bees or board days stand behind the figure, to one digit."""
        return looked_at_words(self.about_bees, self.about_board_days)

    @property
    def about_bees(self) -> int:
        return _one_digit(self.row.bees) if self.row and self.shown and self.row.bees else 0

    @property
    def about_board_days(self) -> int:
        return _one_digit(self.row.board_days) if self.row and self.shown and self.row.board_days else 0

    @property
    def without_mites(self) -> str:
        return _band(self.row.zeros if self.row else 0)

    @property
    def _share(self) -> tuple[float, float, float] | None:
        found = self.row.shares.get(self.level.key) if self.row and self.level else None
        return (found[0], found[1], found[2]) if found else None

    def _told(self, rate: float | None) -> float | None:
        return None if rate is None or self.row is None else rate * PER[Kind(self.row.kind)]


@dataclass(frozen=True)
class PublishedLine:
    """One month across the regions; without a `published_at` it is not published."""

    month: dt.date
    published_at: dt.datetime | None
    cells: Sequence[PublishedCell]

    @property
    def is_empty(self) -> bool:
        return not any(cell.row for cell in self.cells)


@dataclass(frozen=True)
class PublishedTable:
    """A year of published months of one kind of count."""

    kind: Kind
    year: int
    regions: Sequence[Region]
    lines: Sequence[PublishedLine]
    next_on: dt.date
    """The day on which the next month is published."""

    @property
    def unit(self) -> str:
        return say(UNITS[self.kind])

    @property
    def query(self) -> str:
        """What was asked for, as a query of an address."""
        return urlencode({"kind": self.kind.value, "year": self.year})

    @property
    def has_counts(self) -> bool:
        return not all(line.is_empty for line in self.lines)

    @cached_property
    def folded(self) -> list[tuple[str, str, PublishedLine | None]]:
        """(months in words, why there is nothing, the line): months in a row with nothing to tell are one line."""
        told: list[tuple[str, str, PublishedLine | None]] = []
        for why, group in groupby(self.lines, key=_nothing):
            lines = list(group)
            if why:
                told.append((_span(lines[0].month, lines[-1].month), why, None))
            else:
                told += [(month_year(line.month), "", line) for line in lines]
        return told

    @cached_property
    def marks(self) -> list[Mark]:
        """What the chart draws, region by region."""
        places = range(len(self.regions))
        told = (mark_of(line.cells[place], line.month) for place in places for line in self.lines)
        return [mark for mark in told if mark]

    @property
    def alt(self) -> str:
        """What the chart says, for those who do not see it."""
        kind = say(KIND_WORDS[self.kind])
        head = say("{kind} published of {year}, mites {unit}.", kind=kind, year=self.year, unit=self.unit)
        return chart_alt(self.marks, head)

    @property
    def levels(self) -> list[Level]:
        """The action levels that shares on the page are about."""
        used = [
            cell.level
            for line in self.lines
            for cell in line.cells
            if cell.level and cell.shown and cell.share
        ]
        return list({level.key: level for level in used}.values())


def published_years(club: Club, today: dt.date) -> list[int]:
    """Years with a published month, the newest first, with the present one."""
    found = Publication.objects.filter(club=club).aggregate(first=Min("month"), last=Max("month"))
    first, last = (found[end].year if found[end] else today.year for end in ("first", "last"))
    return list(range(max(last, today.year), min(first, today.year) - 1, -1))


def published_table(
    club: Club, kind: Kind, year: int, *, at: dt.datetime, outside: bool = False
) -> PublishedTable:
    """The table, on the club's own calendar and clock. Five queries, however many regions and months there are."""
    zone = zone_of(club.time_zone)
    regions = list(club.regions.all())
    moments = dict(
        Publication.objects.filter(club=club, month__year=year).values_list("month", "published_at")
    )
    rows = RegionMonth.objects.filter(
        region__in=regions, month__in=moments, kind=kind, part=Part.ALL, frozen_at__isnull=False
    )
    placed = {(row.region_id, row.month): row for row in rows}
    keys = {key for row in placed.values() for key in row.shares}
    levels = {row.key: row.as_value() for row in ActionLevel.objects.filter(key__in=keys)}
    least = int(DEFAULTS.keepers_outside_min.value) if outside else 0
    lines = [
        PublishedLine(
            month,
            moments[month].astimezone(zone) if month in moments else None,
            [_cell(region, placed.get((region.pk, month)), levels, least) for region in regions],
        )
        for month in (dt.date(year, number, 1) for number in range(1, 13))
        if month <= at.astimezone(zone).date()
    ]
    next_month = last_due(club, at) + dt.timedelta(days=32)
    return PublishedTable(kind, year, regions, lines, published_on(next_month.replace(day=1)))


def publishing_rule() -> str:
    """When a month is published, in words."""
    return say("on the {day}th of the next month", day=PUBLISHED_ON)


def _cell(region: Region, row: RegionMonth | None, levels: dict[str, Level], least: int) -> PublishedCell:
    found = [levels[key] for key in (row.shares if row else ()) if key in levels]
    return PublishedCell(region, row, found[0] if found else None, least)


def _band(number: int) -> str:
    band = count_band(number)
    return say_as("how many", "none") if band is CountBand.NONE else band.value


def _one_digit(number: float) -> int:
    return int(float(f"{number:.0e}"))


def _nothing(line: PublishedLine) -> str:
    if line.published_at is None:
        return say("not published")
    return say("no samples") if line.is_empty else ""


def _span(first: dt.date, last: dt.date) -> str:
    if first == last:
        return month_year(first)
    return say("{first} to {last}", first=month_short(first.month), last=month_year(last))
