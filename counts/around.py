"""What the database knows around counts of one method and day that are about to be kept, read at one go."""

import datetime as dt
import uuid
from collections.abc import Collection
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, NamedTuple

from django.db import connection

from apiaries.in_database import InDatabase
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
    the colonies in the days up to the one asked about, and of the yards round it, in the order of their days; `moved`:
    whether one of the colonies was moved after that day."""

    here: set[uuid.UUID]
    near: list[Near]
    moved: bool


# By index alone, one for each of the three; a count may be found by several. What was voided is left out afterwards.
counts_around = InDatabase(
    "counts_around",
    "the_keys uuid[], the_colonies bigint[], the_yards bigint[], since date, the_day date, first date, last date",
    "TABLE (moved boolean, id bigint, colony_id bigint, yard_id bigint, method varchar, sampled_on date, mites integer,"
    " bees integer, bees_by varchar, board_days numeric, cells_counted integer, cells_total integer, estimated boolean,"
    " stands boolean, entry_key uuid)",
    """
#variable_conflict use_column
BEGIN
  RETURN QUERY SELECT moves.moved, s.id, s.colony_id, s.yard_id, s.method, s.sampled_on, s.mites, s.bees, s.bees_by,
         s.board_days, s.cells_counted, s.cells_total, s.rate IS NOT NULL, s.voided_at IS NULL, s.entry_key
    FROM (SELECT EXISTS (SELECT FROM apiaries_colonymove
                          WHERE colony_id = ANY(the_colonies) AND moved_on > the_day) AS moved) AS moves
    LEFT JOIN counts_mitesample s
      ON s.entry_key = ANY(the_keys)
      OR s.colony_id = ANY(the_colonies) AND s.sampled_on BETWEEN since AND the_day
      OR s.yard_id = ANY(the_yards) AND s.sampled_on BETWEEN first AND last;
END
""",
    one_plan=True,
)
_NEAR = f"SELECT * FROM {counts_around.name}(%s::uuid[], %s::bigint[], %s::bigint[], %s, %s, %s, %s)"  # noqa: S608


def around(
    colonies: Collection[int],
    on: dt.date,
    *,
    yards: Collection[int],
    keys: Collection[uuid.UUID] = (),
    but: int | None = None,
) -> Around:
    """All of it for these colonies, yards and entry keys, in one query. `but`: the key of a count to leave out."""
    told: list[Any] = [list(keys), list(colonies), list(yards), on - BEFORE, on, on - ROUND, on + ROUND]
    with connection.cursor() as cursor:
        cursor.execute(_NEAR, told)
        rows = cursor.fetchall()
    near = [Near(*row[1:-2]) for row in rows if row[-2] and row[1] != but]
    near.sort(key=lambda one: (one.sampled_on, one.pk))
    return Around({row[-1] for row in rows}.intersection(keys), near, rows[0][0])


def is_round(day: dt.date, on: dt.date) -> bool:
    """Whether counts of these two days are of one occasion in a yard."""
    return abs(day - on) <= ROUND


def is_before(day: dt.date, on: dt.date) -> bool:
    """Whether a colony's count of that day is held against its next."""
    return on - BEFORE <= day < on
