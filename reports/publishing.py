"""Publishes the months of a club: copies of the figures that never change again.

Figures that follow the counts tell a neighbour's count to whoever looks before it and after it. A published month is
one look for all: every region and kind at once, hidden cells too, and nothing that is logged later.
"""

import datetime as dt
from collections.abc import Iterable, Iterator
from decimal import ROUND_HALF_UP, Decimal

from django.db import transaction

from apiaries.models import Club, Region
from apiaries.zones import zone_of
from counts.action_levels import Level
from counts.samples import Kind
from reports.figures import level_of_month, levels_of
from reports.kinds import PER
from reports.models import Publication, RegionMonth, RegionMonthMark
from reports.parts import Part

PUBLISHED_ON = 10
"""Day of the next month on which a month is published: time to type up the last days' counts (our choice)."""
AT_ONCE = 500


def publish_due(*, at: dt.datetime) -> int:
    """Publish what is due in every club; how many months. Nothing is published twice, whoever asks how often."""
    clubs = [(club, last_due(club, at)) for club in Club.objects.order_by("pk")]
    lately = Publication.objects.filter(month__in={month for _, month in clubs})
    done = set(lately.values_list("club", "month"))
    return sum(_publish(club.pk, at) for club, month in clubs if (club.pk, month) not in done)


def last_due(club: Club, at: dt.datetime) -> dt.date:
    """The newest month that is due by then, by the club's calendar."""
    today = at.astimezone(zone_of(club.time_zone)).date()
    return _back(today.replace(day=1), 1 if today.day >= PUBLISHED_ON else 2)


def published_on(month: dt.date) -> dt.date:
    """The day on which a month is due."""
    return _back(month, -1).replace(day=PUBLISHED_ON)


@transaction.atomic
def _publish(club_id: int, at: dt.datetime) -> int:
    """Publish the months of one club that are due and were not; how many."""
    # Whoever comes second waits here, and then finds it done. The regions are held as `refresh_marked` holds them, so
    # that all figures are of one moment.
    club = Club.objects.select_for_update(no_key=True).get(pk=club_id)
    regions = list(Region.objects.select_for_update(no_key=True).filter(club=club).order_by("pk"))
    months = _due(club, regions, at)
    if RegionMonthMark.objects.filter(region__in=regions, month__in=months).exists():
        return 0  # figures of it are behind their counts: at the next tick
    levels = levels_of(club)
    rows = RegionMonth.objects.filter(region__in=regions, month__in=months, part=Part.ALL, frozen_at=None)
    Publication.objects.bulk_create(Publication(club=club, month=month, published_at=at) for month in months)
    RegionMonth.objects.bulk_create((as_published(row, levels, at) for row in rows), batch_size=AT_ONCE)
    return len(months)


def _due(club: Club, regions: list[Region], at: dt.datetime) -> list[dt.date]:
    """Every month from the club's first one on, and older ones, which came in by import, once one of their figures
    can be shown. Older ones wait for the next month's day, so that an import has time to be whole."""
    first = club.founded_at.astimezone(zone_of(club.time_zone)).date().replace(day=1)
    last = last_due(club, at)
    done = set(Publication.objects.filter(club=club).values_list("month", flat=True))
    since = [month for month in _months(first, last) if month not in done]
    if not since:
        return []
    older = RegionMonth.objects.filter(
        region__in=regions, month__lt=first, part=Part.ALL, frozen_at=None, reason=""
    ).exclude(month__in=done)
    return [*sorted(set(older.values_list("month", flat=True))), *since]


def as_published(row: RegionMonth, levels: Iterable[Level], at: dt.datetime) -> RegionMonth:
    """A copy that stays: what the page shows, as it shows it, and nothing that it does not."""
    per = PER[Kind(row.kind)]
    level = level_of_month(levels, Kind(row.kind), row.month)
    share = row.shares.get(level.key) if level else None
    return RegionMonth(
        region_id=row.region_id,
        month=row.month,
        kind=row.kind,
        part=row.part,
        yards=row.yards,
        keepers=row.keepers,
        colonies=row.colonies,
        samples=row.samples,
        zeros=row.zeros,
        mites=row.mites,
        bees=row.bees,
        board_days=row.board_days,
        rate=_rounded(row.rate, per),
        low=_rounded(row.low, per),
        high=_rounded(row.high, per),
        median=_rounded(row.median, per),
        shares={level.key: [_rounded(end, 10) for end in share]} if level and share else {},
        reason=row.reason,
        basis_id=row.basis_id,
        computed_at=row.computed_at,
        frozen_at=at,
    )


def _rounded(figure: float | None, per: int) -> float | None:
    """To one decimal of the unit it is told in, halves up as on the pages."""
    if figure is None:
        return None
    told = Decimal(str(figure * per)).quantize(Decimal("0.1"), ROUND_HALF_UP)
    return float(told / per)


def _months(first: dt.date, last: dt.date) -> Iterator[dt.date]:
    while first <= last:
        yield first
        first = _back(first, -1)


def _back(month: dt.date, number: int) -> dt.date:
    """The first day of the month so many before; after, for a negative number."""
    count = month.year * 12 + month.month - 1 - number
    return dt.date(count // 12, count % 12 + 1, 1)
