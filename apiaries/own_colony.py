"""A colony of one's own, of which nearly every count is: asked as the gate asks, in SQL that is made once.

Making the statement took Django longer by far than asking it. It is made of `editable_by` all the same, for people
who stand in for anybody, and only their keys are exchanged.
"""

from functools import cache

from django.db import connection

from apiaries.models import Colony, Membership, Person, Yard

PERSON, CLUB, COLONY = -1, -2, -3
"""Keys of nobody and nothing, which stand in."""

_OF_COLONY = [one.attname for one in Colony._meta.concrete_fields]
_OF_YARD = [one.attname for one in Yard._meta.concrete_fields]


def own_colony(person: Person, pk: int) -> Colony | None:
    """The colony with its yard and club, if it is the person's to edit, else None. One query."""
    if person.membership is None:
        return None
    sql, places = _asked()
    keys = {PERSON: person.pk, CLUB: person.membership.club_id, COLONY: pk}
    with connection.cursor() as cursor:
        cursor.execute(sql, [keys[one] for one in places])
        row = cursor.fetchone()
    if row is None:
        return None
    colony = Colony.from_db(connection.alias, _OF_COLONY, row[: len(_OF_COLONY)])
    colony.yard = Yard.from_db(connection.alias, _OF_YARD, row[len(_OF_COLONY) :])
    colony.yard.club = person.membership.club  # which is the yard's, or it were not theirs
    return colony


@cache
def _asked() -> tuple[str, list[int]]:
    """The statement, and who stands in at each of its places."""
    anybody = Person(pk=PERSON)
    anybody.membership = Membership(person_id=PERSON, club_id=CLUB)
    found = Colony.objects.editable_by(anybody).select_related("yard").filter(pk=COLONY)
    sql, places = found.query.sql_with_params()
    if not {PERSON, CLUB, COLONY} == set(places):
        raise TypeError(f"editable_by asks for more than person, club and colony: {places}")
    return sql, list(places)
