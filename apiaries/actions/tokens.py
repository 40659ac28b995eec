"""Tokens of other programs."""

import datetime as dt
import secrets
from base64 import b32encode
from collections.abc import Collection

from django.db.models import Q

from apiaries.api.scopes import Scope
from apiaries.history import action
from apiaries.mail import token_mail
from apiaries.models import AccessToken, NoticeKind, Person
from apiaries.models.tokens import digest_of
from apiaries.notices import keep, tell

WORD_BYTES = 25  # 200 bits; 40 of them are kept in the open, to know the token by
KIND = "rc_"
"""Stands before each word, so that whoever finds one in a file knows what was lost."""
PREFIX_LETTERS = 8
LIVES = (30, 90, 365)
"""Days a token may be made for."""
MOST_TOKENS = 50


class NotTheirs(ValueError):
    """A token is made and revoked by its person only."""


class NoScope(ValueError):
    """A token for nothing, or for what is no scope."""


class OddLife(ValueError):
    """A token ends after one of `LIVES` days."""


class TooManyTokens(ValueError):
    """The person has as many as anybody may have."""


@action
def make_token(
    *, person: Person, name: str, scopes: Collection[str], days: int, at: dt.datetime, by: Person
) -> tuple[AccessToken, str]:
    """A token, and its word, which is told once and not kept."""
    if by.pk != person.pk:
        raise NotTheirs("Nobody makes a token of somebody else.")
    if not scopes or not set(scopes) <= {scope.value for scope in Scope}:
        raise NoScope(f"No scopes: {sorted(scopes)}.")
    if days not in LIVES:
        raise OddLife(f"{days} days.")
    Person.objects.select_for_update(no_key=True).get(pk=person.pk)  # sends at once count each other
    if AccessToken.objects.standing(at).filter(person=person).count() >= MOST_TOKENS:
        raise TooManyTokens(f"{MOST_TOKENS} tokens.")
    secret = b32encode(secrets.token_bytes(WORD_BYTES)).decode().lower()
    token = AccessToken(
        person=person,
        name=name.strip(),
        digest=digest_of(KIND + secret),
        prefix=secret[:PREFIX_LETTERS],
        scopes=[scope.value for scope in Scope if scope.value in scopes],
        made_at=at,
        expires_at=at + dt.timedelta(days=days),
    )
    token.full_clean()
    token.save()
    keep(token_mail(token), kind=NoticeKind.TOKEN_MADE, person=person, at=at)
    return token, KIND + secret


@action
def revoke_token(*, token: AccessToken, at: dt.datetime, by: Person) -> bool:
    """It stops working at once. False if it was revoked before."""
    if by.pk != token.person_id:
        raise NotTheirs("Nobody revokes a token of somebody else.")
    standing = AccessToken.objects.filter(pk=token.pk, revoked_at=None)
    if not standing.update(revoked_at=at, revoked_by=by):
        return False
    tell(NoticeKind.TOKEN_REVOKED, by, at=at, name=token.name)
    return True


def note_use(*, token: AccessToken, at: dt.datetime, by: Person) -> None:
    """Keep in which hour a token was last used: one write an hour, and nothing that tells when somebody sleeps."""
    hour = at.replace(minute=0, second=0, microsecond=0)
    if token.last_used_at is None or token.last_used_at < hour:
        earlier = Q(last_used_at=None) | Q(last_used_at__lt=hour)
        AccessToken.objects.filter(earlier, pk=token.pk).update(last_used_at=hour)
