"""Published months as other programs get them: the table of the page, one region of it, not yet in words."""

import datetime as dt
from typing import Any

from apiaries.models import Region
from counts.api.shapes import PER_100_BEES, PER_DAY
from counts.samples import Kind
from reports.api.shapes import HIDDEN, NO_SAMPLES, NOT_PUBLISHED, PUBLISHED
from reports.due_days import local_day
from reports.hiding import hiding_rule, range_level
from reports.published_page import PublishedCell, published_table

TOLD = 1
"""Places after the point of a published rate."""


def months_told(region: Region, kind: Kind, year: int | None, *, at: dt.datetime) -> dict[str, Any]:
    """A year of the region's months; the present year, if none is named."""
    club = region.club
    table = published_table(club, kind, year or local_day(at, club.time_zone).year, at=at)
    place = [one.pk for one in table.regions].index(region.pk)
    return {
        "region": {"id": region.pk, "name": region.name},
        "kind": kind.value,
        "year": table.year,
        "unit": PER_DAY if kind is Kind.BOARD else PER_100_BEES,
        "hidden_when": hiding_rule(),
        "next_published_on": table.next_on,
        "items": [_month(line.month, line.published_at, line.cells[place], kind) for line in table.lines],
    }


def _month(
    month: dt.date, published_at: dt.datetime | None, cell: PublishedCell, kind: Kind
) -> dict[str, Any]:
    figure = _figure(cell, kind)
    state = NOT_PUBLISHED if published_at is None else HIDDEN if cell.reason else PUBLISHED
    return {
        "month": month,
        "state": NO_SAMPLES if state == PUBLISHED and figure is None else state,
        "published_at": published_at,
        "hidden_because": cell.reason.value if cell.reason else None,
        "figure": figure,
    }


def _figure(cell: PublishedCell, kind: Kind) -> dict[str, Any] | None:
    if not cell.shown or cell.rate is None or cell.low is None or cell.high is None:
        return None
    board = kind is Kind.BOARD
    return {
        "rate": round(cell.rate, TOLD),
        "low": round(cell.low, TOLD),
        "high": round(cell.high, TOLD),
        "level": range_level() / 100,
        "uncertain": cell.uncertain,
        "median": None if cell.median is None else round(cell.median, TOLD),
        "about_bees": None if board else cell.about_bees,
        "about_board_days": cell.about_board_days if board else None,
        "keepers": cell.keepers,
        "yards": cell.yards,
        "colonies": cell.colonies,
        "counts": cell.counts,
        "counts_without_mites": cell.without_mites,
        "yards_above": _share(cell),
    }


def _share(cell: PublishedCell) -> dict[str, Any] | None:
    ends = cell.share_ends
    if ends is None or cell.level is None or cell.level_rate is None:
        return None
    low, high = ends
    return {
        "level_key": cell.level.key,
        "level_rate": cell.level_rate,
        "source": cell.level.source,
        "share": cell.share,
        "low": low,
        "high": high,
    }
