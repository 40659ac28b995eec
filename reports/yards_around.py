"""Yards around a place, for the inspector of their regions: which lie within, and what is known of each.

Only yards of the regions assigned to the reader are ever asked about. Nothing here depends on other yards, not even a
number: who may ask again and again with other circles could find them by it.
"""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from math import ceil, floor
from typing import Any

from django.db.models import Q, QuerySet

from apiaries.distance import Box, Place, box_around, km_between, middle_of, reach_of_cell
from apiaries.language import figure, mark, say
from apiaries.models import Person, Region, Yard
from reports.known_yards import KnownYard, known_yards

MOST_YARDS = 200
"""So many are worked out at once; of more, the nearest (our choice)."""
FINE = Decimal("0.00001")
KNOWN, NEAREST = "known", "nearest"
ORDERS = {
    KNOWN: mark("Above the action level first, then not counted for longest"),
    NEAREST: mark("Nearest first"),
}


@dataclass(frozen=True, slots=True)
class Found:
    """A yard and how far it is: to the metre where its place is known, else from `near` to `far`; in km."""

    yard_id: int
    near: float
    far: float
    in_cell: bool

    @property
    def words(self) -> str:
        """The distance; for a mere area the nearest it can be rounded down and the farthest rounded up."""
        if not self.in_cell:
            return _km_words(self.near)
        near, far = floor(self.near), ceil(self.far)
        return say("{near} to {far} km", near=near, far=far) if near else say("up to {far} km", far=far)


@dataclass(frozen=True, slots=True, kw_only=True)
class YardRow(KnownYard):
    """One yard within the distance, and what is known of it."""

    found: Found


@dataclass(frozen=True, slots=True)
class Around:
    """What lies within, and what is known of it."""

    rows: Sequence[YardRow]
    total: int
    """Yards within; more than are in `rows` where the nearest had to do."""
    placeless: int
    """Yards of these regions that nobody can find this way."""

    @property
    def above(self) -> int:
        """How many of those shown are above the action level."""
        return sum(1 for row in self.rows if row.is_above)

    @property
    def uncounted(self) -> int:
        """How many of those shown were never counted."""
        return sum(1 for row in self.rows if row.newest is None)


def yards_around(person: Person, place: Place, km: float, *, order: str, on: dt.date) -> Around:
    """The yards within, sorted as `order` says. A constant number of queries."""
    yards = Yard.objects.inspected_by(person).filter(closed_on=None)
    found = [*_with_places(yards, place, km), *_in_cells(yards, place, km)]
    nearest = sorted(found, key=lambda one: (one.near, one.far, one.yard_id))[:MOST_YARDS]
    rows = sorted(_rows(person, yards, nearest, on), key=_known if order == KNOWN else _near)
    return Around(rows=rows, total=len(found), placeless=yards.filter(latitude=None, cell="").count())


def centre_of(yard: Yard) -> Place | None:
    """Where a circle around a yard is drawn: its place, else the middle of its area; None without either."""
    if yard.latitude is not None and yard.longitude is not None:
        return float(yard.latitude), float(yard.longitude)
    return middle_of(yard.cell) if yard.cell else None


def other_regions(person: Person, regions: Iterable[Region]) -> int:
    """How many regions of the club are not among these."""
    membership = person.membership
    if membership is None:
        return 0
    return membership.club.regions.exclude(pk__in=[one.pk for one in regions]).count()


def _with_places(yards: "QuerySet[Yard]", place: Place, km: float) -> list[Found]:
    rows = yards.filter(_inside(box_around(place, km))).order_by()
    placed: Any = rows.values_list("pk", "latitude", "longitude")
    measured = [
        (pk, km_between(place, (float(latitude), float(longitude)))) for pk, latitude, longitude in placed
    ]
    return [Found(pk, away, away, in_cell=False) for pk, away in measured if away <= km]


def _inside(box: Box) -> Q:
    """The box as a condition, in decimals rounded outwards: compared with floats, an index would be of no use."""
    across = Q()
    for west, east in box.stretches:
        across |= Q(longitude__gte=_down(west), longitude__lte=_up(east))
    return Q(latitude__gte=_down(box.south), latitude__lte=_up(box.north)) & across


def _in_cells(yards: "QuerySet[Yard]", place: Place, km: float) -> list[Found]:
    """Yards without a place, where any part of their area is within."""
    rough = yards.filter(latitude=None).exclude(cell="").order_by()
    cells = rough.values_list("cell", flat=True).distinct()
    near = {cell: reach for cell in cells if (reach := reach_of_cell(place, cell)).near <= km}
    rows = rough.filter(cell__in=list(near)).values_list("pk", "cell")
    return [Found(pk, near[cell].near, near[cell].far, in_cell=True) for pk, cell in rows]


def _rows(person: Person, yards: "QuerySet[Yard]", found: Sequence[Found], on: dt.date) -> list[YardRow]:
    wanted = yards.filter(pk__in=[one.yard_id for one in found])
    by_key = {row.yard.pk: row for row in known_yards(person, wanted, on)}
    return [_found(by_key[one.yard_id], one) for one in found if one.yard_id in by_key]


def _found(row: KnownYard, found: Found) -> YardRow:
    known = {one.name: getattr(row, one.name) for one in fields(row)}
    return YardRow(found=found, **known)


def _known(row: YardRow) -> tuple[bool, bool, float, dt.date, float, int]:
    """Above the level first, the highest of them first; then never counted; then not counted for longest.

    What is known of a yard goes before how well its place is known: a mere area is marked, not put last. Rates per
    100 bees and per day are not compared: yards of which there is a board alone come after the others.
    """
    high = (row.says is None, -row.rate) if row.is_above else (False, 0.0)
    return not row.is_above, *high, row.last_on, row.found.near, row.yard.pk


def _near(row: YardRow) -> tuple[bool, float, float, int]:
    """By distance; mere areas, whose distance is a range, after all that have one."""
    return row.found.in_cell, row.found.near, row.found.far, row.yard.pk


def _km_words(km: float) -> str:
    if km < 0.1:
        return say("less than {km} km", km=figure("0.1"))
    return f"{figure(f'{km:.1f}' if km < 9.95 else f'{km:.0f}')} km"


def _down(degrees: float) -> Decimal:
    return Decimal(degrees).quantize(FINE, ROUND_FLOOR)


def _up(degrees: float) -> Decimal:
    return Decimal(degrees).quantize(FINE, ROUND_CEILING)
