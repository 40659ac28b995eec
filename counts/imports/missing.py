"""Colonies that a sheet names and that are not here: looked up, to be agreed to before they are set up."""

import datetime as dt
from dataclasses import dataclass

from django.db import connection

from apiaries.language import say, say_many
from apiaries.models import Person, Yard
from apiaries.templatetags.recount_words import day
from apiaries.views.asking import today_in
from apiaries.zones import zone_of
from counts.imports.reasons import Kind
from counts.models import ImportBatch

MOST_SHOWN = 60
"""So many on one page (our choice); the rest follow when these are set up."""
LIKELY_ALIVE = dt.timedelta(days=365)
"""A colony counted within so long before the sheet came is first taken to be alive (our choice); its keeper says."""


@dataclass(frozen=True, slots=True)
class Missing:
    """A colony of the sheet, the yard it is said to stand in, and the days and number of its rows."""

    yard: Yard
    name: str
    first: dt.date
    last: dt.date
    rows: int
    likely: str

    @property
    def words(self) -> str:
        """Colony 12 in Home yard."""
        return say("Colony {name} in {yard}", name=self.name, yard=self.yard.name)

    @property
    def hint(self) -> str:
        """How many rows name it, and of which days."""
        first, last = day(self.first), day(self.last)
        if first == last:
            return say_many("{n} row, of {last}", "{n} rows, of {last}", self.rows, last=last)
        return say_many(
            "{n} row, {first} to {last}", "{n} rows, {first} to {last}", self.rows, first=first, last=last
        )


def missing_of(batch: ImportBatch, person: Person) -> tuple[list[Missing], int]:
    """Colonies that the person may set up, those with most rows first, and how many more there are.

    Only in open yards whose set-up the person may change: for the others their keeper must. Rows of days to come say
    nothing of when a colony was there.
    """
    today, sent = today_in(batch.club), batch.at.astimezone(zone_of(batch.club.time_zone)).date()
    yards = Yard.objects.editable_by(person).filter(closed_on=None).in_bulk()
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT (reason->2->>'yard_key')::bigint, min(reason->2->>'text'), min(sampled_on), max(sampled_on),"
            "       count(*)"
            "  FROM counts_importrow, jsonb_array_elements(reasons) AS reason"
            " WHERE batch_id = %s AND status = 'error' AND sampled_on <= %s AND reason->>1 = %s"
            " GROUP BY 1, lower(reason->2->>'text') ORDER BY count(*) DESC, 1, 2",
            [batch.pk, today, Kind.COLONY_UNKNOWN.value],
        )
        found = [
            Missing(
                yards[key],
                name,
                first,
                last,
                rows,
                "here" if sent - last <= LIKELY_ALIVE else "gone",
            )
            for key, name, first, last, rows in cursor.fetchall()
            if key in yards
        ]
    return found[:MOST_SHOWN], max(0, len(found) - MOST_SHOWN)
