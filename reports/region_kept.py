"""What Region by month keeps of itself until a figure on it changes."""

import datetime as dt
import hashlib
import json
from collections.abc import Collection, Mapping
from dataclasses import dataclass

from django.db.models import Min
from django.utils.translation import get_language

from apiaries.models import Club, Region
from apiaries.zones import zone_of
from reports.models import RegionEdition, RegionMonthMark

KEPT_FOR = 10 * 60
"""Seconds: action levels and the program itself may change without a figure changing."""


@dataclass(frozen=True)
class Standing:
    """How far the figures of a club's regions are."""

    name: str
    """Another after any change of them."""
    as_of: dt.datetime | None
    waiting_since: dt.datetime | None
    """When the first count was saved that is not worked in yet."""

    def of_page(self, asked: Mapping[str, str], *, today: dt.date, drawing: str) -> str:
        """What the page that answers a question, or a drawing on it, is kept under."""
        # The table ends with the present month, and the map goes back some years from it.
        # Its words are kept with the figures, so each language has a page of its own.
        return _digest([self.name, sorted(asked.items()), f"{today:%Y-%m}", drawing, get_language()])


def standing_of(club: Club, regions: Collection[Region], time_zone: str) -> Standing:
    """In two queries of a few rows."""
    editions = {row.region_id: row for row in RegionEdition.objects.filter(region__in=regions)}
    waiting = RegionMonthMark.objects.filter(region__in=regions).aggregate(first=Min("marked_at"))["first"]
    as_of = max((row.worked_out_at for row in editions.values()), default=None)
    told = [(one.pk, one.name, editions[one.pk].edition if one.pk in editions else 0) for one in regions]
    zone = zone_of(time_zone)
    return Standing(
        _digest([club.pk, club.name, club.action_level_issuer, told]),
        as_of.astimezone(zone) if as_of else None,
        waiting.astimezone(zone) if waiting else None,
    )


def _digest(told: object) -> str:
    return hashlib.sha256(json.dumps(told).encode()).hexdigest()
