"""What Region by month keeps of itself until a figure on it changes."""

import datetime as dt
import hashlib
import json
from collections.abc import Collection, Mapping
from dataclasses import dataclass

from django.db import connection, connections, router
from django.utils.translation import get_language

from apiaries.models import Club
from apiaries.zones import zone_of
from reports.models import RegionEdition

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


def region_names(club: Club) -> list[tuple[int, str]]:
    """Key and name of each region, by name. Asked in front of every page that is kept, so for no more than these."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT id, name FROM apiaries_region WHERE club_id = %s ORDER BY name", (club.pk,))
        return list(cursor.fetchall())


def standing_of(club: Club, regions: Collection[tuple[int, str]], time_zone: str) -> Standing:
    """In one query of a few rows, from the replica while a page may lag. `regions`: key and name of each."""
    keys = [key for key, _ in regions]
    with connections[router.db_for_read(RegionEdition)].cursor() as cursor:
        cursor.execute(
            """SELECT (SELECT min(marked_at) FROM reports_regionmonthmark WHERE region_id = ANY(%(keys)s)),
                      max(worked_out_at), array_agg(ARRAY[region_id, edition])
                 FROM reports_regionedition WHERE region_id = ANY(%(keys)s)""",
            {"keys": keys},
        )
        waiting, as_of, pairs = cursor.fetchone()
    editions = dict(pairs or ())
    told = [(key, name, editions.get(key, 0)) for key, name in regions]
    zone = zone_of(time_zone)
    return Standing(
        _digest([club.pk, club.name, club.action_level_issuer, told]),
        as_of.astimezone(zone) if as_of else None,
        waiting.astimezone(zone) if waiting else None,
    )


def _digest(told: object) -> str:
    return hashlib.sha256(json.dumps(told).encode()).hexdigest()
