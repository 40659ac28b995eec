"""In which yard colonies stood on a day that may be past: moves are told with their days, and often late."""

import datetime as dt
from collections.abc import Collection, Iterable, Sequence

from django.db import connection

from apiaries.models import Colony, Visit, Yard
from apiaries.second_lock import by_the_service

_MOVES = """
SELECT colony_id, from_yard_id, moved_on FROM apiaries_colonymove
 WHERE colony_id = ANY(%s::bigint[]) AND moved_on > %s ORDER BY moved_on, id
"""


def yards_on(days: Sequence[tuple[Colony, dt.date]]) -> list[Yard]:
    """The yard in which each colony stood at the end of its day, in the order given, also where the reader may not
    have it: a gate stands between this and what is shown. One query for all, and a second where one was moved since."""
    moves: dict[int, list[tuple[int, dt.date]]] = {}
    for colony_id, from_yard, moved_on in _moves_since(days):
        moves.setdefault(colony_id, []).append((from_yard, moved_on))
    known = _of_anybody({yard for told in moves.values() for yard, _ in told})
    return [
        next((known[yard] for yard, day in moves.get(colony.pk, ()) if day > on), colony.yard)
        for colony, on in days
    ]


@by_the_service
def _of_anybody(yards: Collection[int]) -> dict[int, Yard]:
    """Where the reader may not write, a count is refused; for that it must be known that it was there."""
    return Yard.objects.in_bulk(yards)


def _moves_since(days: Sequence[tuple[Colony, dt.date]]) -> list[tuple[int, int, dt.date]]:
    """Colony, yard that it left and day, for moves after the first of the days. By hand: every count asks for it."""
    if not days:
        return []
    with connection.cursor() as cursor:
        cursor.execute(_MOVES, [list({colony.pk for colony, _ in days}), min(on for _, on in days)])
        return cursor.fetchall()


def stood_in(yard: Yard, colonies: Iterable[Colony], on: dt.date) -> set[int]:
    """Of the colonies, those that stood in the yard when the day began or when it ended. One query for all."""
    days = [(one, day) for one in colonies for day in (on - dt.timedelta(days=1), on)]
    places = yards_on(days)
    return {colony.pk for (colony, _), place in zip(days, places, strict=True) if place.pk == yard.pk}


def named_in(visit: Visit) -> frozenset[int]:
    """The colonies of which a kept visit tells anything."""
    found = visit.findings.order_by().values_list("colony", flat=True)
    suspected = visit.suspicions.exclude(colony=None).order_by().values_list("colony", flat=True)
    return frozenset([*found, *suspected])
