"""What the database knows around counts of one method and day that are about to be kept, read at one go."""

import datetime as dt
import uuid
from collections.abc import Collection
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, NamedTuple

from django.db import connection

from counts.constants import DEFAULTS
from counts.samples import Kind, Method, kind_of
from counts.spread import ROUND_DAYS

ROUND = dt.timedelta(days=ROUND_DAYS - 1)
BEFORE = dt.timedelta(days=DEFAULTS.odd_change_days_max.value)


class Near(NamedTuple):
    """A count that stands, as far as others are held against it: a whole one has thirty columns."""

    pk: int
    colony_id: int
    yard_id: int
    method: str
    sampled_on: dt.date
    mites: int
    bees: int | None
    bees_by: str
    board_days: Decimal | None
    cells_counted: int | None
    cells_total: int | None
    estimated: bool
    """Whether it allows an estimate."""

    @property
    def kind(self) -> Kind:
        """Which counts it may be held against."""
        return kind_of(Method(self.method))


@dataclass(frozen=True, slots=True)
class Around:
    """`here`: those of the entry keys under which a count is kept, standing or not; `near`: the counts that stand of
    the colonies in the days up to the one asked about, and of the yards round it, in the order of their days."""

    here: set[uuid.UUID]
    near: list[Near]


# By index alone, one for each of the three; a count may be found by several. What was voided is left out afterwards.
_NEAR = """
SELECT id, colony_id, yard_id, method, sampled_on, mites, bees, bees_by, board_days, cells_counted, cells_total,
       rate IS NOT NULL, voided_at IS NULL, entry_key
  FROM counts_mitesample
 WHERE entry_key = ANY(%(keys)s::uuid[])
    OR colony_id = ANY(%(colonies)s::bigint[]) AND sampled_on BETWEEN %(since)s AND %(on)s
    OR yard_id = ANY(%(yards)s::bigint[]) AND sampled_on BETWEEN %(first)s AND %(last)s
"""


def around(
    colonies: Collection[int],
    on: dt.date,
    *,
    yards: Collection[int],
    keys: Collection[uuid.UUID] = (),
    but: int | None = None,
) -> Around:
    """All of it for these colonies, yards and entry keys, in one query. `but`: the key of a count to leave out."""
    told: dict[str, Any] = {
        "keys": list(keys),
        "colonies": list(colonies),
        "yards": list(yards),
        "since": on - BEFORE,
        "on": on,
        "first": on - ROUND,
        "last": on + ROUND,
    }
    with connection.cursor() as cursor:
        cursor.execute(_NEAR, told)
        rows = cursor.fetchall()
    near = [Near(*row[:-2]) for row in rows if row[-2] and row[0] != but]
    near.sort(key=lambda one: (one.sampled_on, one.pk))
    return Around({row[-1] for row in rows}.intersection(keys), near)


def is_round(day: dt.date, on: dt.date) -> bool:
    """Whether counts of these two days are of one occasion in a yard."""
    return abs(day - on) <= ROUND


def is_before(day: dt.date, on: dt.date) -> bool:
    """Whether a colony's count of that day is held against its next."""
    return on - BEFORE <= day < on
