"""Which rows a page is drawn from, and a word that is another as soon as one of them is.

PostgreSQL gives each version of a row a transaction (xmin) and a place (ctid) of its own: together they tell whether
anything was added, changed or taken away since, in one statement and at no cost to who writes. Nobody has to remember
to say that something changed; only to list here what a page looks at, which tests hold against what it asks for.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property

from django.db import connection

from apiaries.models import Person, Yard
from apiaries.second_lock import by_the_service


@dataclass(frozen=True, slots=True)
class Rows:
    """Rows of a table, which is called `t` in `where`; that may name %(yard)s, %(club)s, %(region)s, %(keeper)s and
    %(reader)s, and `(SELECT id FROM bees)`: the colonies that a page of the yard tells of."""

    table: str
    where: str = "true"


@dataclass
class DrawnFrom:
    """What all apps say of one kind of page."""

    rows: list[Rows] = field(default_factory=list)
    bees: list[str] = field(default_factory=list)

    def register(self, rows: Iterable[Rows], *, bees: Iterable[str] = ()) -> None:
        """Add what an app's parts of the page look at, once. `bees`: SELECTs of one column, keys of colonies."""
        self.rows.extend(one for one in rows if one not in self.rows)
        self.bees.extend(one for one in bees if one not in self.bees)

    @cached_property
    def statement(self) -> str:
        """Once all apps have registered."""
        told = ",\n".join(  # names and conditions stand in this program
            f"(SELECT count(*) || '.' || coalesce(sum(hashtextextended(t.xmin::text || t.ctid::text, 0)), 0)"  # noqa: S608
            f" FROM {one.table} t WHERE {one.where})"
            for one in self.rows
        )
        return f"WITH bees(id) AS MATERIALIZED ({' UNION '.join(self.bees)})\nSELECT concat_ws(',', {told})"


yard_drawn_from = DrawnFrom()
yard_drawn_from.register(
    (
        Rows("apiaries_yard", "t.id = %(yard)s"),
        Rows("apiaries_club", "t.id = %(club)s"),
        Rows("apiaries_region", "t.id = %(region)s"),
        Rows("apiaries_yardhelper", "t.yard_id = %(yard)s"),
        Rows("apiaries_visit", "t.yard_id = %(yard)s"),
        Rows("apiaries_colony", "t.id IN (SELECT id FROM bees)"),
        Rows(
            "apiaries_colonychange",
            "t.colony_id IN (SELECT id FROM bees) OR t.other_id IN (SELECT id FROM bees)",
        ),
        Rows(
            "apiaries_person",
            "t.id IN (%(reader)s, %(keeper)s) OR t.id IN"
            " (SELECT inspector_id FROM apiaries_visit WHERE yard_id = %(yard)s)",
        ),
        Rows(  # what the reader may, and who else sees the yard
            "apiaries_membership",
            "t.person_id IN (%(reader)s, %(keeper)s)"
            " OR t.person_id IN (SELECT person_id FROM apiaries_yardhelper WHERE yard_id = %(yard)s)"
            " OR t.id IN (SELECT membership_id FROM apiaries_membership_regions WHERE region_id = %(region)s)",
        ),
        Rows("apiaries_membership_regions", "t.region_id = %(region)s"),
    ),
    bees=["SELECT id FROM apiaries_colony WHERE yard_id = %(yard)s"],
)


@by_the_service
def standing_of_yard(yard: Yard, reader: Person) -> str:
    """Another after any change of what the yard's page shows to this reader. One statement."""
    keys = {
        "yard": yard.pk,
        "club": yard.club_id,
        "region": yard.region_id,
        "keeper": yard.keeper_id,
        "reader": reader.pk,
    }
    with connection.cursor() as cursor:
        cursor.execute(yard_drawn_from.statement, keys)
        (told,) = cursor.fetchone()
    return str(told)
