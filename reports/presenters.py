"""What the page Region by month shows: one cell per region and month, in words where there is no figure."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from django.db.models import Max, Min, OuterRef, Subquery

from apiaries.language import month_name, say
from apiaries.models import Club, Region
from counts.action_levels import Level
from reports.charts import Mark, chart_alt, mark_of
from reports.heat import heat_class, trend_words, unusual_words
from reports.kinds import KIND_WORDS, PER, UNITS
from reports.models import RegionMonth
from reports.parts import Part
from reports.pressure import drawn_together
from reports.region_cells import PAST_TOLD, Cell
from reports.region_choice import HIGHEST_FIRST, Choice, HeatClass, heat_classes
from reports.region_rows import (
    LevelsOnOffer,
    PastYears,
    live_rows,
    past_years,
    share_of,
)
from reports.trend import season_trend

Place = tuple[int, dt.date]


@dataclass(frozen=True)
class RegionRow:
    """One region's months, from January on."""

    region: Region
    cells: Sequence[Cell]

    @property
    def last_drawn(self) -> float:
        """The rate of its last month with a figure, drawn towards the other regions; below 0 without any."""
        drawn = [cell.drawn for cell in self.cells if cell.drawn is not None]
        return drawn[-1] if drawn else -1.0


@dataclass(frozen=True)
class RegionTable:
    """The figures of a year: a row for each region, cells from January on."""

    choice: Choice
    regions: Sequence[Region]
    rows: Sequence[RegionRow]
    months: Sequence[dt.date]
    unit: str
    levels: Sequence[Level]
    """The action levels that shares on the page are about."""
    trend: str = ""
    """What may be said of one region's years."""

    @property
    def cells(self) -> list[Cell]:
        """Month by month across the regions."""
        return [row.cells[place] for place in range(len(self.months)) for row in self.rows]

    @property
    def classes(self) -> list[HeatClass]:
        """The legend of the colours."""
        return heat_classes(self.choice.kind)

    @property
    def nothing(self) -> str:
        """What is said where there is no row: of a part it need not mean that nobody counted."""
        return say("no samples") if self.choice.part is Part.ALL else say("none of these, or hidden")

    @property
    def has_unusual(self) -> bool:
        return any(cell.unusual for cell in self.cells)

    @property
    def has_levelled(self) -> bool:
        """Whether a cell has the class of another figure than its own."""
        return any(cell.levelled is not None for cell in self.cells)

    @property
    def has_counts(self) -> bool:
        return any(cell.row for cell in self.cells)

    @cached_property
    def marks(self) -> list[Mark]:
        """What the chart draws, region by region."""
        told = (mark_of(cell, cell.month, cell.other) for row in self.rows for cell in row.cells)
        return [mark for mark in told if mark]

    @property
    def alt(self) -> str:
        """What the chart says, for those who do not see it."""
        choice, kind = self.choice, say(KIND_WORDS[self.choice.kind])
        if choice.part is Part.ALL:
            head = say("{kind} in {year}, mites {unit}.", kind=kind, year=choice.year, unit=self.unit)
            return chart_alt(self.marks, head)
        part = choice.part_words[0].lower() + choice.part_words[1:]
        head = say(
            "{kind} in {year}, {part}, mites {unit}.", kind=kind, year=choice.year, part=part, unit=self.unit
        )
        return chart_alt(self.marks, head)


def region_table(
    choice: Choice, all_regions: Sequence[Region], offer: LevelsOnOffer, *, today: dt.date
) -> RegionTable:
    """The table for one kind and year. Two queries, however many regions and months there are."""
    regions = [choice.region] if choice.region else all_regions
    year = [dt.date(choice.year, number, 1) for number in range(1, 13)]
    of_month = {month: offer.of_month(choice.kind, month, choice.level) for month in year}
    levels = list({level.key: level for level in of_month.values() if level}.values())
    found = live_rows(
        regions, choice.kind, choice.part, [choice.year], levels, full=choice.region is not None
    )
    by_place = {(row.region_id, row.month): row for row in found}
    past = past_years(regions, choice.kind, choice.part)
    months = _months(year, by_place, today=today)
    drawn = _drawn(months, by_place)
    rows = [
        RegionRow(
            region,
            [
                _cell(choice, region, month, by_place, of_month[month], levels, drawn, past)
                for month in months
            ],
        )
        for region in regions
    ]
    if choice.order == HIGHEST_FIRST:
        rows.sort(key=lambda row: -row.last_drawn)
    used = {cell.level.key: cell.level for row in rows for cell in row.cells if cell.level and cell.share}
    return RegionTable(
        choice=choice,
        regions=regions,
        rows=rows,
        months=months,
        unit=say(UNITS[choice.kind]),
        levels=list(used.values()),
        trend=_trend(past) if choice.region else "",
    )


def _cell(
    choice: Choice,
    region: Region,
    month: dt.date,
    by_place: Mapping[Place, RegionMonth],
    level: Level | None,
    levels: Sequence[Level],
    drawn: Mapping[Place, float],
    past: PastYears,
) -> Cell:
    row, rate = by_place.get((region.pk, month)), drawn.get((region.pk, month))
    before = past.before(region.pk, month, most=None if choice.region else PAST_TOLD)
    odd, per = "", PER[choice.kind]
    if row and row.rate is not None and choice.part is Part.ALL:
        rates = past.rates_before(region.pk, month)
        odd = unusual_words(rates, row.rate * per, month_name(month.month))
    return Cell(
        month,
        region,
        row,
        level,
        per,
        say(UNITS[choice.kind]),
        ends=share_of(row, levels, level),
        heat=None if rate is None else heat_class(rate, choice.kind),
        drawn=None if rate is None else rate * per,
        own_class=heat_class(row.rate, choice.kind) if row and row.rate is not None else None,
        unusual=odd,
        past=before,
        other=past.of_year(region.pk, month, choice.compare),
    )


def _drawn(months: Sequence[dt.date], by_place: Mapping[Place, RegionMonth]) -> dict[Place, float]:
    """The rates of each month's regions, drawn together."""
    drawn: dict[Place, float] = {}
    for month in months:
        known = [
            (region_id, row.mites, row.exposure, row.squared_cv)
            for (region_id, when), row in by_place.items()
            if when == month and row.exposure is not None and row.squared_cv is not None
        ]
        if known:
            regions, mites, exposure, spread = zip(*known, strict=True)
            rates = drawn_together(mites, exposure, spread).tolist()
            drawn |= {(region_id, month): rate for region_id, rate in zip(regions, rates, strict=True)}
    return drawn


def _trend(past: PastYears) -> str:
    """Of the medians of all months that have one."""
    years = sorted({year for year, _ in past.medians})
    if not years:
        return ""
    table = np.full((years[-1] - years[0] + 1, 12), np.nan)
    for (year, month), median in past.medians.items():
        table[year - years[0], month - 1] = median
    return trend_words(season_trend(table))


def years_of(club: Club, today: dt.date) -> list[int]:
    """Years that have figures, the newest first, with the present one."""
    months = RegionMonth.objects.filter(region=OuterRef("pk"), frozen_at=None).values("month")
    # By region, so that an index gives the ends of each and no other row is read.
    ends = club.regions.annotate(
        begins=Subquery(months.order_by("month")[:1]), ends=Subquery(months.order_by("-month")[:1])
    )
    found = ends.aggregate(first=Min("begins"), last=Max("ends"))
    first = found["first"].year if found["first"] else today.year
    last = max(found["last"].year if found["last"] else today.year, today.year)
    return list(range(last, first - 1, -1))


def _months(
    year: Sequence[dt.date], by_place: Mapping[Place, RegionMonth], *, today: dt.date
) -> list[dt.date]:
    """January to December, but not beyond today (or what has figures)."""
    last = max([month for _, month in by_place] + [today.replace(day=1)])
    return [month for month in year if month <= last]
