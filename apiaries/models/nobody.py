"""Somebody who is nobody in particular."""

from apiaries.models.people import Club, Membership, Person
from apiaries.permissions import Role


def anybody(club: Club | None, role: Role = Role.MEMBER) -> Person:
    """Somebody of a role, or of no club, who is nobody in particular: to ask what they may see. Never saved."""
    person = Person(pk=0, name="anybody")
    person.membership = Membership(pk=0, club=club, person=person, role=role) if club else None
    return person
