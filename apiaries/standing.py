"""In which yard colonies stood on a day that may be past: moves are told with their days, and often late."""

import datetime as dt
from collections.abc import Iterable, Sequence

from apiaries.models import Colony, ColonyMove, Visit, Yard


def yards_on(days: Sequence[tuple[Colony, dt.date]]) -> list[Yard]:
    """The yard in which each colony stood at the end of its day, in the order given. One query for all."""
    moves: dict[int, list[ColonyMove]] = {}
    rows = ColonyMove.objects.filter(colony__in={colony.pk for colony, _ in days}).select_related("from_yard")
    for move in rows.order_by("moved_on", "pk"):
        moves.setdefault(move.colony_id, []).append(move)
    return [
        next((move.from_yard for move in moves.get(colony.pk, []) if move.moved_on > on), colony.yard)
        for colony, on in days
    ]


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
