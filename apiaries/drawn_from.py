"""Which rows a page is drawn from, and a word that is another as soon as one of them is.

PostgreSQL gives each version of a row a transaction (xmin) and a place (ctid) of its own: together they tell whether
anything was added, changed or taken away since, in one statement and at no cost to who writes. Nobody has to remember
to say that something changed; only to list here what a page looks at, which tests hold against what it asks for.

The statement stands in the database as a function (`apiaries.in_database`).
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple

from django.db import connection
from django.db.models import BigIntegerField

from apiaries.in_database import InDatabase
from apiaries.models import Person
from apiaries.second_lock import by_the_service


@dataclass(frozen=True, slots=True)
class Rows:
    """Rows of a table, which is called `t` in `where`; that may name the_yard, the_club, the_region, the_keeper and
    the_reader, and the lists: `= ANY(the_bees)`, the colonies that a page of the yard tells of."""

    table: str
    where: str = "true"


@dataclass
class DrawnFrom:
    """What all apps say of one kind of page."""

    rows: list[Rows] = field(default_factory=list)
    lists: dict[str, list[str]] = field(default_factory=dict)

    def register(self, rows: Iterable[Rows], *, lists: Mapping[str, str] | None = None) -> None:
        """Add what an app's parts of the page look at, once. `lists`: by name a SELECT of keys, which several apps may
        add to; each may use the lists named before it."""
        self.rows.extend(one for one in rows if one not in self.rows)
        for name, keys in (lists or {}).items():
            if keys not in self.lists.setdefault(name, []):
                self.lists[name].append(keys)

    @cached_property
    def function(self) -> InDatabase:
        """Once all apps have registered."""
        told = ",\n    ".join(  # names and conditions stand in this program
            f"(SELECT count(*) || '.' || coalesce(sum(hashtextextended(t.xmin::text || t.ctid::text, 0)), 0)"  # noqa: S608
            f" FROM {one.table} t WHERE {one.where})"
            for one in self.rows
        )
        body = f"""
DECLARE
  the_club bigint; the_region bigint; the_keeper bigint;
  {" ".join(f"{name} bigint[];" for name in self.lists)}
BEGIN
  SELECT t.club_id, t.region_id, t.keeper_id, t.time_zone, c.time_zone
    INTO the_club, the_region, the_keeper, yard_zone, club_zone
    FROM apiaries_yard t JOIN apiaries_club c ON c.id = t.club_id WHERE t.id = the_yard;
  IF NOT FOUND THEN
    RETURN;
  END IF;
  {" ".join(f"{name} := ARRAY({' UNION '.join(keys)});" for name, keys in self.lists.items())}
  word := concat_ws(',',
    {told});
  RETURN NEXT;
END
"""  # noqa: S608  (as above)
        gives = "TABLE (word text, yard_zone text, club_zone text)"
        return InDatabase("yard_drawn_from", "the_yard bigint, the_reader bigint", gives, body)


yard_drawn_from = DrawnFrom()
yard_drawn_from.register(
    (
        Rows("apiaries_yard", "t.id = the_yard"),
        Rows("apiaries_club", "t.id = the_club"),
        Rows("apiaries_region", "t.id = the_region"),
        Rows("apiaries_yardhelper", "t.yard_id = the_yard"),
        Rows("apiaries_visit", "t.yard_id = the_yard"),
        Rows("apiaries_colony", "t.id = ANY(the_bees)"),
        Rows("apiaries_colonychange", "t.colony_id = ANY(the_bees) OR t.other_id = ANY(the_bees)"),
        Rows(
            "apiaries_person",
            "t.id IN (the_reader, the_keeper)"
            " OR t.id = ANY(ARRAY(SELECT inspector_id FROM apiaries_visit WHERE yard_id = the_yard))",
        ),
        Rows(  # what the reader may, and who else sees the yard
            "apiaries_membership",
            "t.person_id IN (the_reader, the_keeper)"
            " OR t.person_id = ANY(ARRAY(SELECT person_id FROM apiaries_yardhelper WHERE yard_id = the_yard))"
            " OR t.id = ANY(ARRAY("
            "SELECT membership_id FROM apiaries_membership_regions WHERE region_id = the_region))",
        ),
        Rows("apiaries_membership_regions", "t.region_id = the_region"),
    ),
    lists={"the_bees": "SELECT id FROM apiaries_colony WHERE yard_id = the_yard"},
)


class StandingOfYard(NamedTuple):
    """`word`: another after any change of what the yard's page shows to a reader. The time zones are names."""

    word: str
    yard_zone: str
    club_zone: str

    @property
    def empty(self) -> frozenset[str]:
        """Tables of which no row is on the page: nobody need ask them for it.

        Where one gets a row in the meantime, the page is drawn without it, and kept under a word that is over.
        """
        told = zip(yard_drawn_from.rows, self.word.split(","), strict=True)
        some = {one.table for one, rows in told if not rows.startswith("0.")}
        return frozenset(one.table for one in yard_drawn_from.rows) - some


@by_the_service
def standing_of_yard(yard: int, reader: Person) -> StandingOfYard | None:
    """For this reader now; None if there is no such yard. Whether they may see it is not asked. One statement."""
    if yard > BigIntegerField.MAX_BIGINT:  # an address may hold any number
        return None
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT * FROM {yard_drawn_from.function.name}(%s, %s)", (yard, reader.pk))  # noqa: S608
        found = cursor.fetchone()
    return None if found is None else StandingOfYard(*found)
