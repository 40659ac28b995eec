"""A colony of one's own, of which nearly every count is: asked as the gate asks, in a statement put together once."""

from django.db import connection
from django.db.models import QuerySet

from apiaries.built_once import BuiltOnce
from apiaries.models import Colony, Membership, Person, Yard

_OF_COLONY = [one.attname for one in Colony._meta.concrete_fields]
_OF_YARD = [one.attname for one in Yard._meta.concrete_fields]


def own_colony(person: Person, pk: int) -> Colony | None:
    """The colony with its yard and club, if it is the person's to edit, else None. One query."""
    if person.membership is None:
        return None
    rows = _ASKED.rows(person=person.pk, club=person.membership.club_id, colony=pk)
    if not rows:
        return None
    (row,) = rows
    colony = Colony.from_db(connection.alias, _OF_COLONY, row[: len(_OF_COLONY)])
    colony.yard = Yard.from_db(connection.alias, _OF_YARD, row[len(_OF_COLONY) :])
    colony.yard.club = person.membership.club  # which is the yard's, or it were not theirs
    return colony


def _own(*, person: int, club: int, colony: int) -> "QuerySet[Colony]":
    """Made of `editable_by`, for somebody who stands in for anybody."""
    anybody = Person(pk=person)
    anybody.membership = Membership(person_id=person, club_id=club)
    return Colony.objects.editable_by(anybody).select_related("yard").filter(pk=colony)


_ASKED = BuiltOnce(_own, ("person", "club", "colony"))
