"""In which yard colonies stood on a day that may be past: moves are told with their days, and often late."""

import datetime as dt
from collections.abc import Iterable, Sequence
from typing import Any

from django.db import connection

from apiaries.models import Colony, Visit, Yard

Days = Sequence[tuple[Colony, dt.date]]
"""Colonies, each with the day that is asked about."""

STOOD = """
SELECT place, COALESCE((
         SELECT yard.id FROM apiaries_colonymove move JOIN apiaries_yard yard ON yard.id = move.from_yard_id
          WHERE move.colony_id = told.colony_id AND move.moved_on > told.day
          ORDER BY move.moved_on, move.id LIMIT 1
       ), told.yard_id) AS yard_id
  FROM unnest(%(told_colonies)s::bigint[], %(told_yards)s::bigint[], %(told_days)s::date[])
       WITH ORDINALITY AS told (colony_id, yard_id, day, place)
"""
"""By place in the order told, from 1: the key of the yard in which a colony stood at the end of its day. For
statements that need to know it before they go on; `told_of` gives what it asks for."""

_HOLD = f"""
WITH stood AS MATERIALIZED ({STOOD}), held AS MATERIALIZED (
  SELECT id FROM apiaries_yard WHERE id = ANY(ARRAY(SELECT yard_id FROM stood)) ORDER BY id FOR NO KEY UPDATE
)
SELECT yard_id FROM stood, (SELECT count(*) FROM held) AS all_of_them ORDER BY place
"""  # noqa: S608  (a query of our own)


def yards_on(days: Days) -> list[Yard]:
    """The yard in which each colony stood at the end of its day, in the order given. One query for all, and a second
    where one stood elsewhere."""
    return _asked(f"SELECT yard_id FROM ({STOOD}) AS stood ORDER BY place", days)  # noqa: S608


def held_yards_on(days: Days) -> list[Yard]:
    """The same, and these yards are locked until the transaction ends, as `Yard.objects.hold` does it."""
    return _asked(_HOLD, days)


def told_of(days: Days) -> dict[str, list[Any]]:
    """What `STOOD` asks for, by name."""
    return {
        "told_colonies": [colony.pk for colony, _ in days],
        "told_yards": [colony.yard_id for colony, _ in days],
        "told_days": [on for _, on in days],
    }


def with_keys(keys: Sequence[int], days: Days) -> list[Yard]:
    """The yards with these keys, one for each of the days. No query for those in which the colonies stand now."""
    known = {
        colony.yard_id: colony.yard
        for (colony, _), key in zip(days, keys, strict=True)
        if key == colony.yard_id
    }
    away = set(keys) - set(known)
    known |= Yard.objects.in_bulk(away) if away else {}
    return [known[key] for key in keys]


def _asked(query: str, days: Days) -> list[Yard]:
    if not days:
        return []
    with connection.cursor() as cursor:
        cursor.execute(query, told_of(days))
        return with_keys([key for (key,) in cursor.fetchall()], days)


def stood_in(yard: Yard, colonies: Iterable[Colony], on: dt.date) -> set[int]:
    """Of the colonies, those that stood in the yard when the day began or when it ended. One query for all."""
    days = [(one, day) for one in colonies for day in (on - dt.timedelta(days=1), on)]
    places = yards_on(days) if days else []
    return {colony.pk for (colony, _), place in zip(days, places, strict=True) if place.pk == yard.pk}


def named_in(visit: Visit) -> frozenset[int]:
    """The colonies of which a kept visit tells anything."""
    found = visit.findings.order_by().values_list("colony", flat=True)
    suspected = visit.suspicions.exclude(colony=None).order_by().values_list("colony", flat=True)
    return frozenset([*found, *suspected])
