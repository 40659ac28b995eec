"""Where people are signed in: noted as they sign in, and once an hour while they go on."""

import datetime as dt
from typing import Any

from allauth.account import signals
from allauth.core import context
from allauth.mfa.models import Authenticator
from allauth.mfa.signals import authentication_failed
from django.contrib.auth.signals import user_logged_in, user_login_failed
from django.db.models.signals import post_delete, post_save
from django.dispatch import receiver
from django.http import HttpRequest
from django.utils import timezone

from apiaries.actions.sign_ins import (
    close_sessions,
    hour_of,
    note_new_key,
    note_refused,
    note_seen,
    note_sign_in,
)
from apiaries.models import DeviceKind, Person, SignIn
from apiaries.sign_in_log import mark_of

OWN = "sign_in"
"""In a session: the key of its row. The session's own key changes with the password."""


def device_of(request: HttpRequest | None) -> DeviceKind:
    """By the words that browsers put into `User-Agent`: "Mobi" is what those of phones say (from memory)."""
    words = request.META.get("HTTP_USER_AGENT", "") if request is not None else ""
    if "Mobi" in words:
        return DeviceKind.PHONE
    return DeviceKind.COMPUTER if words.startswith("Mozilla/") else DeviceKind.UNKNOWN


def still_holds(request: HttpRequest, *, at: dt.datetime) -> bool:
    """Whether somebody who is signed in still is: not if it lasted or rested too long. Notes that it was used."""
    person, key = request.user, request.session.session_key
    if key is None or not isinstance(person, Person):
        return True
    # It comes along with the session, but where Django itself had to ask who somebody is.
    sign_in = person.sign_in or SignIn.objects.filter(session_key=key).first()
    if sign_in is None:  # it began before sign-ins were noted
        _note(request, person, at)
        return True
    if sign_in.is_over(at, person=person):
        return False
    if sign_in.last_seen_at < hour_of(at):
        note_seen(session_key=key, at=at)
    return True


def _note(request: HttpRequest, person: Any, at: dt.datetime) -> None:
    if request.session.session_key is None:
        request.session.save()
    key = str(request.session.session_key)
    sign_in = note_sign_in(person=person, session_key=key, device=device_of(request), at=at)
    request.session[OWN] = sign_in.pk


@receiver(user_logged_in, dispatch_uid="apiaries.sign_ins.in")
def _signed_in(request: HttpRequest, user: Person, **_: Any) -> None:
    _note(request, user, timezone.now())


@receiver(user_login_failed, dispatch_uid="apiaries.sign_ins.refused")
def _refused(credentials: dict[str, Any], request: HttpRequest | None = None, **_: Any) -> None:
    typed = str(credentials.get("email") or credentials.get("username") or "")
    note_refused(mark=mark_of(typed), device=device_of(request), at=timezone.now())


@receiver(authentication_failed, dispatch_uid="apiaries.sign_ins.wrong_code")
def _wrong_code(request: HttpRequest, user: Person, **_: Any) -> None:
    note_refused(mark=mark_of(user.email), device=device_of(request), at=timezone.now())


@receiver([signals.password_changed, signals.password_set, signals.password_reset])
def _new_password(request: HttpRequest, user: Person, **_: Any) -> None:
    """The library leaves this browser in, under a new key; of the others nothing but their rows would be left."""
    _goes_on(request)
    close_sessions(user, at=timezone.now(), but=request.session.session_key)


@receiver(signals.authentication_step_completed, dispatch_uid="apiaries.sign_ins.proven_again")
def _proven_again(request: HttpRequest, reauthenticated: bool = False, **_: Any) -> None:
    """A key that somebody got hold of before is worth nothing from now on (OWASP ASVS 5.0.0, 7.2.4)."""
    if reauthenticated:
        request.session.cycle_key()
        _goes_on(request)


def _goes_on(request: HttpRequest) -> None:
    """The same sign-in, under the key that its session has by now."""
    own = request.session.get(OWN)
    if own is not None and request.session.session_key is not None:
        note_new_key(sign_in=own, session_key=request.session.session_key)


@receiver([post_save, post_delete], sender=Authenticator)
def _second_step_changed(instance: Authenticator, created: bool = True, **_: Any) -> None:
    """Turned on, off, or its codes made anew, by the person in a browser: whoever else is in goes out.

    A code or the app that is merely used saves a row that is there already.
    """
    request = context.request
    if created and request is not None and getattr(request.user, "pk", None) == instance.user_id:
        close_sessions(instance.user, at=timezone.now(), but=request.session.session_key)
