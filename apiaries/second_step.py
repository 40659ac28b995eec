"""Who needs a second step at sign-in, and who has not set one up yet."""

from allauth.mfa.models import Authenticator
from django.conf import settings

from apiaries.models import Person
from apiaries.permissions import Role

NEEDED_BY = frozenset({Role.COORDINATOR, Role.INSPECTOR, Role.ADMINISTRATOR})
"""Roles that see or set what is not their own. Who runs the server needs it too, whatever their role."""


def needs_second_step(person: Person) -> bool:
    """Whether a password or a mailed code alone is not enough for what this person may see."""
    if not settings.REQUIRE_SECOND_STEP:
        return False
    membership = person.membership
    return person.is_operator or (membership is not None and Role(membership.role) in NEEDED_BY)


def has_second_step(person: Person) -> bool:
    """Whether an authenticator app is set up. Recovery codes alone are none: they only stand in for it."""
    if person.has_totp is not None:
        return person.has_totp
    return bool(Authenticator.objects.filter(user=person, type=Authenticator.Type.TOTP).exists())


def lacks_second_step(person: Person) -> bool:
    """Whether they need one and have none: until it is set up they go no further. At most two queries."""
    return needs_second_step(person) and not has_second_step(person)
