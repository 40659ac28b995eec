"""Reads what is behind Region by month: a few rows of figures, and of them only what is shown."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Q, QuerySet
from django.db.models.fields.json import KeyTransform

from apiaries.models import Club, Region
from counts.action_levels import Level, levels_for
from counts.models import ActionLevel
from counts.samples import Kind
from reports.figures import LEVEL_KINDS, level_of_month
from reports.heat import is_uncertain
from reports.kinds import PER
from reports.models import RegionMonth
from reports.parts import Part
from reports.region_cells import Ends, Past

ALWAYS = (
    *("region_id", "month", "yards", "keepers", "colonies", "samples", "zeros", "mites", "bees"),
    *("board_days", "yards_effective", "rate", "low", "high", "exposure", "squared_cv"),
    *("reason", "computed_at"),
)
IN_FULL = (*ALWAYS, "median", "tenth", "ninetieth")

Place = tuple[int, dt.date]
YearRow = tuple[int, float, float, float, int | None, float | None, float | None]
"""A year's rate, its range, bees, board days and effective yards, as read: of thousands only a few are shown."""


def live_rows(
    regions: Collection[Region],
    kind: Kind,
    part: Part,
    years: Iterable[int],
    levels: Sequence[Level],
    *,
    full: bool,
) -> list[RegionMonth]:
    """The rows that follow the counts, of whole years, without what the page does not show of them. Each has the
    shares above these levels as `share_0` and so on."""
    wanted = Q()
    for year in set(years):
        wanted |= Q(month__range=(dt.date(year, 1, 1), dt.date(year, 12, 1)))
    shares = {f"share_{place}": KeyTransform(level.key, "shares") for place, level in enumerate(levels)}
    found = _live(regions, kind, part).filter(wanted).annotate(**shares).order_by()
    return list(found.only(*(IN_FULL if full else ALWAYS)))


def share_of(row: RegionMonth | None, levels: Sequence[Level], level: Level | None) -> Ends | None:
    """The share above one of the levels the row was read with."""
    found = getattr(row, f"share_{levels.index(level)}", None) if row and level in levels else None
    return tuple(found) if found else None


@dataclass(frozen=True)
class PastYears:
    """The other years' figures of a kind of count: by region and month of the year, the last year first."""

    by_month: Mapping[tuple[int, int], Sequence[YearRow]]
    per: float
    medians: Mapping[tuple[int, int], float]
    """Of one region only, by year and month."""

    def rates_before(self, region_id: int, month: dt.date) -> list[float]:
        """What the same month of the years before came to."""
        rows = self.by_month.get((region_id, month.month), ())
        return [row[1] * self.per for row in rows if row[0] < month.year]

    def before(self, region_id: int, month: dt.date, *, most: int | None = None) -> list[Past]:
        """The same month of the years before, of so many of them at most."""
        rows = [row for row in self.by_month.get((region_id, month.month), ()) if row[0] < month.year]
        return [self._told(row) for row in rows[:most]]

    def of_year(self, region_id: int, month: dt.date, year: int | None) -> Past | None:
        """The same month of another year."""
        rows = self.by_month.get((region_id, month.month), ())
        return next((self._told(row) for row in rows if row[0] == year), None)

    def _told(self, row: YearRow) -> Past:
        year, rate, low, high, bees, days, yards = row
        doubtful = is_uncertain(rate, low, high, yards)
        return Past(year, rate * self.per, low * self.per, high * self.per, bees, days, doubtful)


def past_years(regions: Collection[Region], kind: Kind, part: Part) -> PastYears:
    """What may be shown of every year."""
    by_month: dict[tuple[int, int], list[YearRow]] = defaultdict(list)
    medians: dict[tuple[int, int], float] = {}
    columns = ("region_id", "month", "rate", "low", "high", "bees", "board_days", "yards_effective", "median")
    rows = _live(regions, kind, part).filter(rate__isnull=False).order_by("-month")
    for region_id, month, rate, low, high, bees, days, yards, median in rows.values_list(*columns):
        by_month[region_id, month.month].append((month.year, rate, low, high, bees, days, yards))
        if len(regions) == 1 and median is not None:
            medians[month.year, month.month] = median
    return PastYears(by_month, PER[kind], medians)


@dataclass(frozen=True)
class LevelsOnOffer:
    """The published action levels, and those of the club's issuer."""

    published: Sequence[Level]
    own: Sequence[Level]

    def of_kind(self, kind: Kind) -> list[Level]:
        """Levels that some month of this kind of count may be held against, the club's issuer's first."""
        asked: dict[str, Level] = {}
        for number in range(1, 13):
            for level in levels_for(self.published, LEVEL_KINDS[kind], dt.date(2000, number, 1)):
                if level.act_rate is not None:
                    asked.setdefault(level.key, level)
        own = {level.key for level in self.own}
        return sorted(asked.values(), key=lambda level: (level.key not in own, level.issuer, level.key))

    def of_month(self, kind: Kind, month: dt.date, chosen: Level | None) -> Level | None:
        """The level that a month is held against."""
        if chosen is not None:
            return chosen if chosen.applies(month, None) else None
        return level_of_month(self.own, kind, month)


def levels_on_offer(club: Club) -> LevelsOnOffer:
    """All of them, in one query."""
    rows = list(ActionLevel.objects.all())
    own = [row.as_value() for row in rows if row.issuer == club.action_level_issuer]
    return LevelsOnOffer([row.as_value() for row in rows], own)


def _live(regions: Collection[Region], kind: Kind, part: Part) -> QuerySet[RegionMonth]:
    return RegionMonth.objects.filter(region__in=regions, kind=kind, part=part, frozen_at=None)
