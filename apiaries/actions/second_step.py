"""Taking off somebody's second step, once phone and recovery codes are lost."""

import datetime as dt

from allauth.mfa.models import Authenticator

from apiaries.actions.sign_ins import NotOthers, close_sessions
from apiaries.history import action
from apiaries.language import say
from apiaries.models import Membership, NoticeKind, Person
from apiaries.notices import tell
from apiaries.permissions import Role


class NoSecondStep(ValueError):
    """There is nothing to take off."""


@action
def reset_second_step(*, person: Person, why: str, at: dt.datetime, by: Person | None) -> None:
    """App and recovery codes go, and every sign-in of the person is closed; they and the administrators are told.

    `by` is None at the server's console. Errors: NotOthers, NoSecondStep; ValueError without a reason.
    """
    if by is not None and by.pk == person.pk:
        # That would make a stolen session worth as much as the phone.
        raise NotOthers("Nobody resets their own second step.")
    if not why.strip():
        raise ValueError("A reset needs a reason.")
    locked = Person.objects.select_for_update().get(pk=person.pk)
    if not Authenticator.objects.filter(user=locked).exists():
        raise NoSecondStep("No second step is set up.")
    Authenticator.objects.filter(user=locked).delete()
    locked.second_step_reset_at = at
    locked.save(update_fields=["second_step_reset_at"])
    close_sessions(locked, at=at)
    facts = {"name": locked.name, "by": by.name if by else say("whoever runs the server"), "why": why.strip()}
    tell(NoticeKind.STEP_RESET, locked, at=at, **facts)
    for administrator in _other_administrators(locked):
        tell(NoticeKind.STEP_RESET, administrator, at=at, **facts)


def _other_administrators(person: Person) -> list[Person]:
    membership = person.memberships.current().first()
    if membership is None:
        return []
    others = Membership.objects.current().filter(club=membership.club_id, role=Role.ADMINISTRATOR)
    return [one.person for one in others.exclude(person=person).select_related("person").order_by("pk")]
