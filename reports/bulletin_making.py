"""Gathers what a month's bulletin is written from: published rows, and nothing that still follows the counts but
whether an early warning about treatments stands, without its numbers."""

import datetime as dt
from collections.abc import Mapping, Sequence

from apiaries.models import Club, Region
from apiaries.zones import zone_of
from counts.action_levels import Level
from counts.models import ActionLevel, CountWeek
from counts.samples import Kind
from reports.bulletin_figures import Figure, KindFigures, MonthFigures, RegionFigure, Share, State, in_order
from reports.early_warning import early_warnings
from reports.heat import is_uncertain
from reports.kinds import HIDDEN_WORDS
from reports.models import RegionMonth
from reports.parts import Part
from reports.pressure import count_band, unusual
from reports.published_page import PublishedCell
from reports.treated_facts import known_of

WEEK_AHEAD = dt.timedelta(days=60)
"""A count week that is further ahead is no news yet (our choice)."""

Rows = Mapping[tuple[int, str, int], RegionMonth]


def figures_of(club: Club, month: dt.date, *, at: dt.datetime) -> MonthFigures:
    """A published month, beside the same month of all earlier years. A handful of queries."""
    regions = list(club.regions.all())
    rows = _published(regions, month)
    keys = {key for row in rows.values() for key in row.shares}
    levels = {row.key: row.as_value() for row in ActionLevel.objects.filter(key__in=keys)}
    kinds = [
        KindFigures(kind, tuple(_region(region, kind, month, rows, levels) for region in regions))
        for kind in Kind
    ]
    on = at.astimezone(zone_of(club.time_zone)).date()
    week = (
        CountWeek.objects.filter(club=club, cancelled_at=None, first_on__gt=on, first_on__lte=on + WEEK_AHEAD)
        .order_by("first_on")
        .first()
    )
    return MonthFigures(
        month=month,
        kinds=in_order(kinds),
        warned=_warned(club, month, on=on, at=at),
        count_asked=month.month % 12 + 1 in club.count_months,
        week=(week.first_on, week.last_on) if week else None,
    )


def _published(regions: Sequence[Region], month: dt.date) -> Rows:
    """By region, kind and year: this month and the same of earlier years."""
    rows = RegionMonth.objects.filter(
        region__in=regions,
        month__in=[dt.date(year, month.month, 1) for year in range(month.year - 40, month.year + 1)],
        part=Part.ALL,
        frozen_at__isnull=False,
    )
    return {(row.region_id, row.kind, row.month.year): row for row in rows}


def _region(
    region: Region, kind: Kind, month: dt.date, rows: Rows, levels: Mapping[str, Level]
) -> RegionFigure:
    row = rows.get((region.pk, kind.value, month.year))
    level = next((levels[key] for key in (row.shares if row else ()) if key in levels), None)
    cell = PublishedCell(region, row, level)
    figure = _figure(cell)
    if row is None:
        return RegionFigure(region.name, State.NOT_COUNTED)
    if figure is None or row.rate is None or row.low is None or row.high is None:
        why = HIDDEN_WORDS[cell.reason] if cell.reason else ""
        return RegionFigure(region.name, State.HIDDEN, why_hidden=why)
    before = rows.get((region.pk, kind.value, month.year - 1))
    past = [
        older.rate
        for (place, of_kind, year), older in rows.items()
        if (place, of_kind) == (region.pk, kind.value) and year < month.year and older.rate is not None
    ]
    odd = unusual(past, row.rate) if past else None
    return RegionFigure(
        region.name,
        State.SHOWN,
        figure=figure,
        median=_told(cell.median),
        share=_share(row, level, cell),
        keepers=str(count_band(row.keepers)),
        yards=str(count_band(row.yards)),
        bees=cell.about_bees,
        board_days=cell.about_board_days,
        before=_figure(PublishedCell(region, before, None)),
        high_beside=len(past) if odd and odd.is_unusual else 0,
        # That fewer than ten yards stand behind it, the band tells as well.
        uncertain=is_uncertain(row.rate, row.low, row.high, row.yards),
    )


def _figure(cell: PublishedCell) -> Figure | None:
    rate, low, high = (_told(one) for one in (cell.rate, cell.low, cell.high))
    if not cell.shown or rate is None or low is None or high is None:
        return None
    return Figure(rate, low, high, none_found=cell.none_found)


def _share(row: RegionMonth, level: Level | None, cell: PublishedCell) -> Share | None:
    ends, rate = (row.shares.get(level.key) if level else None), cell.level_rate
    return Share(ends[0], ends[1], ends[2], round(rate, 2)) if ends and rate is not None else None


def _told(rate: float | None) -> float | None:
    """As published, to one decimal, without what a float adds."""
    return None if rate is None else round(rate, 1)


def _warned(club: Club, month: dt.date, *, on: dt.date, at: dt.datetime) -> tuple[str, ...]:
    """Ingredients with an early warning over all regions together. No number: members see no treatment results."""
    looks = early_warnings(known_of(club, on=on, at=at).facts, month.year)
    return tuple(dict.fromkeys(look.ingredient for look in looks if look.region is None and look.warns))
