"""How a person comes to be one: by an invitation, or as the first of a club."""

import datetime as dt

from django.conf import settings

from apiaries.actions.people import InvitationClosed, accept_invitation
from apiaries.history import action
from apiaries.models import Invitation, Person


class OtherAddress(ValueError):
    """The invitation was sent to another address: it is good for one person only."""


@action
def sign_up(
    *,
    invitation: Invitation,
    email: str,
    name: str,
    password: str | None,
    language: str = settings.LANGUAGE_CODE,
    at: dt.datetime,
    by: Person | None = None,
) -> Person:
    """A new person who joins the invitation's club; without a password they sign in with mailed codes.

    The invitation is locked first: of two sends of one form the second waits, and finds it closed.
    """
    locked = Invitation.objects.select_for_update().get(pk=invitation.pk)
    if not locked.is_open(at):
        raise InvitationClosed("This invitation was used, withdrawn or has expired.")
    if email.strip().lower() != locked.email:
        raise OtherAddress("The invitation was sent to another address.")
    person = add_person(email=email, name=name, password=password, language=language, by=by)
    accept_invitation(invitation=locked, at=at, by=person)
    return person


@action
def add_person(
    *,
    email: str,
    name: str,
    password: str | None = None,
    time_zone: str = "UTC",
    language: str = settings.LANGUAGE_CODE,
    by: Person | None = None,
) -> Person:
    """A person who belongs to no club yet. Without a password they sign in with mailed codes."""
    person = Person(email=email.strip().lower(), name=name.strip(), time_zone=time_zone, language=language)
    person.set_password(password)
    person.full_clean()
    person.save()
    return person
