"""What the page of one's tokens shows."""

import datetime as dt
from dataclasses import dataclass

from apiaries.api.scopes import scope_words
from apiaries.models import AccessToken, Person


@dataclass(frozen=True)
class TokenLine:
    """A token, and what it may do in words."""

    token: AccessToken
    may: list[str]


def tokens_for_list(person: Person, *, at: dt.datetime) -> tuple[list[TokenLine], list[TokenLine]]:
    """Those that work and those that no longer do, newest first."""
    mine = AccessToken.objects.visible_to(person)
    working = set(AccessToken.objects.standing(at).filter(person=person).values_list("pk", flat=True))
    lines = [TokenLine(token, [scope_words(scope) for scope in token.scopes]) for token in mine]
    return (
        [line for line in lines if line.token.pk in working],
        [line for line in lines if line.token.pk not in working],
    )
