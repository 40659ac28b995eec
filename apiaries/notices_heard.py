"""Hears from the sign-in library what people change about their own sign-in, and writes the mails about it.

Its views are wrapped in transactions (`config.urls`); what it tells only after a commit is heard from the rows instead.
"""

from typing import Any

from allauth.account import signals
from allauth.core import context
from allauth.mfa.models import Authenticator
from django.db.models.signals import post_delete, post_save
from django.dispatch import receiver
from django.utils import timezone

from apiaries.models import NoticeKind, Person
from apiaries.notices import tell

TOTP, CODES = Authenticator.Type.TOTP, Authenticator.Type.RECOVERY_CODES


@receiver([signals.password_changed, signals.password_set, signals.password_reset])
def _password(*, user: Person, **_: Any) -> None:
    tell(NoticeKind.PASSWORD, user, at=timezone.now())


@receiver(signals.email_changed)
def _email(*, user: Person, from_email_address: Any, to_email_address: Any, **_: Any) -> None:
    """To both addresses: whoever took the account over has the new one only."""
    if from_email_address is None:
        return
    old, new, at = from_email_address.email, to_email_address.email, timezone.now()
    for address in (old, new):
        tell(NoticeKind.EMAIL, user, at=at, to=address, old=old, new=new)


@receiver(signals.email_added)
def _email_added(*, user: Person, email_address: Any, **_: Any) -> None:
    tell(NoticeKind.EMAIL_ADDED, user, at=timezone.now(), new=email_address.email)


@receiver(signals.email_removed)
def _email_removed(*, user: Person, email_address: Any, **_: Any) -> None:
    tell(NoticeKind.EMAIL_REMOVED, user, at=timezone.now(), old=email_address.email)


@receiver(post_save, sender=Authenticator)
def _step_on(*, instance: Authenticator, created: bool, **_: Any) -> None:
    if created and instance.type == TOTP and _their_own(instance):
        tell(NoticeKind.STEP_ON, instance.user, at=timezone.now())


@receiver(post_delete, sender=Authenticator)
def _step_off(*, instance: Authenticator, **_: Any) -> None:
    """Codes are deleted before new ones are made, and with the app itself: then its own mail says enough."""
    if not _their_own(instance):
        return
    if instance.type == TOTP:
        tell(NoticeKind.STEP_OFF, instance.user, at=timezone.now())
    elif Authenticator.objects.filter(user=instance.user, type=TOTP).exists():
        tell(NoticeKind.CODES, instance.user, at=timezone.now())


def _their_own(authenticator: Authenticator) -> bool:
    """Whether the person does it in a browser: a reset and an erasure are told by those who do them."""
    request = context.request
    return request is not None and getattr(request.user, "pk", None) == authenticator.user_id
