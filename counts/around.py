"""What the database knows around counts of one method and day that are about to be kept, read at one go."""

import datetime as dt
import uuid
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, NamedTuple

from django.db import connection

from apiaries.models import Colony, Yard
from apiaries.standing import STOOD, told_of, with_keys
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
    """`yards`: where each colony stood, in the order asked; `here`: those of the keys under which a count is kept,
    standing or not; `near`: the counts that stand of the colonies up to the day, and of these yards round it."""

    yards: list[Yard]
    here: frozenset[uuid.UUID]
    near: list[Near]


# By index alone, one for each line; a count may be found by several. What was voided is left out afterwards.
_COUNTS = """
SELECT {place} id, colony_id, yard_id, method, sampled_on, mites, bees, bees_by, board_days, cells_counted, cells_total,
       rate IS NOT NULL, voided_at IS NULL, CASE WHEN entry_key = ANY(%(keys)s::uuid[]) THEN entry_key END
  FROM counts_mitesample
 WHERE entry_key = ANY(%(keys)s::uuid[])
    OR colony_id = ANY(%(colonies)s::bigint[]) AND sampled_on BETWEEN %(since)s AND %(on)s
    OR yard_id = ANY({yards}) AND sampled_on BETWEEN %(first)s AND %(last)s
"""
_NEAR = _COUNTS.format(place="", yards="%(yards)s::bigint[]")
_AROUND = f"""
WITH stood AS MATERIALIZED ({STOOD})
SELECT place, NULL, NULL, yard_id, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL FROM stood
UNION ALL {_COUNTS.format(place="NULL,", yards="ARRAY(SELECT yard_id FROM stood)")}
"""  # noqa: S608  (a query of our own)


def around(
    colonies: Sequence[Colony], on: dt.date, *, keys: Collection[uuid.UUID], but: int | None = None
) -> Around:
    """All of it. One query, and a second where a colony stood elsewhere. `but`: the key of a count to leave out."""
    if not colonies:
        return Around([], frozenset(), [])
    days = [(colony, on) for colony in colonies]
    rows = _asked(_AROUND, _told([one.pk for one in colonies], on, keys) | told_of(days))
    stood = sorted((row[0], row[3]) for row in rows if row[0] is not None)
    counts = [row[1:] for row in rows if row[0] is None]
    here = frozenset(row[-1] for row in counts if row[-1] is not None)
    return Around(with_keys([yard for _, yard in stood], days), here, _standing(counts, but))


def near(
    colonies: Collection[int], on: dt.date, *, yards: Collection[int], but: int | None = None
) -> list[Near]:
    """The counts that stand of these colonies in the days up to this one, and of these yards round it. One query."""
    told = _told(colonies, on, ()) | {"yards": list(yards)}
    return _standing(_asked(_NEAR, told), but)


def is_round(day: dt.date, on: dt.date) -> bool:
    """Whether counts of these two days are of one occasion in a yard."""
    return abs(day - on) <= ROUND


def is_before(day: dt.date, on: dt.date) -> bool:
    """Whether a colony's count of that day is held against its next."""
    return on - BEFORE <= day < on


def _told(colonies: Collection[int], on: dt.date, keys: Collection[uuid.UUID]) -> dict[str, Any]:
    return {
        "keys": list(keys),
        "colonies": list(colonies),
        "since": on - BEFORE,
        "on": on,
        "first": on - ROUND,
        "last": on + ROUND,
    }


def _asked(query: str, told: dict[str, Any]) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(query, told)
        return cursor.fetchall()


def _standing(rows: Sequence[tuple[Any, ...]], but: int | None) -> list[Near]:
    found = [Near(*row[:-2]) for row in rows if row[-2] and row[0] != but]
    return sorted(found, key=lambda one: (one.sampled_on, one.pk))
