"""Which yards of an inspector's regions are due for a visit, and in which order to drive.

A constant number of queries, however many yards there are; never more than the inspector may see.
"""

import datetime as dt
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

from django.db.models import Count, Max, Min

from apiaries.distance import Place, km_between
from apiaries.language import mark
from apiaries.models import Person, Visit, VisitOrder
from reports.known_yards import KnownYard, known_yards, to_look_at, with_treatments
from reports.visit_due import asking_again
from reports.yards_around import centre_of

DUE, LOOK, NEAR = "due", "look", "near"
ORDERS = {
    DUE: mark("Follow-up due first, then not visited for longest"),
    LOOK: mark("Above the action level first"),
    NEAR: mark("Way to drive: each the nearest to the one before"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitRow(KnownYard):
    """One yard, what is known of it, and its visits."""

    last_visit: dt.date | None = None
    days_since_visit: int | None = None
    planned: Visit | None = None
    follow_up_on: dt.date | None = None
    open_orders: int = 0
    km: float | None = None
    """From the yard before it in the order to drive; None for the first, and where a place is missing."""

    @property
    def place(self) -> Place | None:
        return centre_of(self.yard)


def visit_rows(person: Person, yards: Any, on: dt.date) -> list[VisitRow]:
    """The yards with their counts, open treatments and visits, in no order."""
    known = with_treatments(known_yards(person, yards, on), on)
    keys = [row.yard.pk for row in known]
    made = Visit.objects.made().filter(yard__in=keys)
    last = dict(made.order_by().values_list("yard").annotate(last=Max("visited_on")))
    planned: dict[int, Visit] = {}
    for visit in Visit.objects.planned().filter(yard__in=keys).order_by("-planned_on"):
        planned[visit.yard_id] = visit
    orders = VisitOrder.objects.filter(done_on=None, visit__in=made.values("pk")).order_by()
    undone = dict(orders.values_list("visit__yard").annotate(n=Count("pk")))
    follow_ups = open_follow_ups(keys)
    return [
        VisitRow(
            **{one.name: getattr(row, one.name) for one in fields(row)},
            last_visit=last.get(row.yard.pk),
            days_since_visit=(on - day).days if (day := last.get(row.yard.pk)) else None,
            planned=planned.get(row.yard.pk),
            follow_up_on=follow_ups.get(row.yard.pk),
            open_orders=undone.get(row.yard.pk, 0),
        )
        for row in known
    ]


def open_follow_ups(yards: Iterable[int]) -> dict[int, dt.date]:
    """By yard, the earliest day for which another visit is asked for and not made yet."""
    asking = asking_again(Visit.objects.made().filter(yard__in=list(yards))).order_by()
    return dict(asking.values_list("yard").annotate(first=Min("follow_up_on")))


def in_order(rows: Iterable[VisitRow], order: str, on: dt.date) -> list[VisitRow]:
    """The rows as asked for."""
    if order == NEAR:
        return way_to_drive(sorted(rows, key=lambda row: _due(row, on)))
    keys: dict[str, Callable[[VisitRow], Any]] = {DUE: lambda row: _due(row, on), LOOK: to_look_at}
    return sorted(rows, key=keys.get(order, keys[DUE]))


def _due(row: VisitRow, on: dt.date) -> tuple[bool, dt.date, dt.date, str, int]:
    late = row.follow_up_on is not None and row.follow_up_on <= on
    return (
        not late,
        row.follow_up_on or dt.date.max,
        row.last_visit or dt.date.min,
        row.yard.name,
        row.yard.pk,
    )


def way_to_drive(rows: Sequence[VisitRow]) -> list[VisitRow]:
    """From the first on, always to the nearest that is left; yards without a place come last, in the order given.

    Straight lines, and no shortest way: a list to begin with, not a route.
    """
    left = [row for row in rows if row.place is not None]
    way: list[VisitRow] = []
    while left:
        here = way[-1].place if way else left[0].place
        nearest = min(left, key=lambda row: (_km(here, row.place), row.yard.pk)) if way else left[0]
        left.remove(nearest)
        way.append(replace(nearest, km=_km(here, nearest.place) if way else None))
    return [*way, *(row for row in rows if row.place is None)]


def _km(one: Place | None, other: Place | None) -> float:
    if one is None or other is None:
        raise ValueError("A distance needs two places.")
    return km_between(one, other)
