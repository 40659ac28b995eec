"""Forms whose answer shows a secret: a browser that loads the answer again sends them again, and they act once."""

import uuid

from django.core.cache import cache
from django.http import HttpRequest

from apiaries.models import Person

KEPT = 24 * 60 * 60
"""Seconds for which a form is known again."""


def new_form_key() -> uuid.UUID:
    """What a form carries in its field `key`, another one each time it opens."""
    return uuid.uuid4()


def is_first_sending(request: HttpRequest, person: Person, what: str) -> bool:
    """Whether this very form was not sent before; from then on it was."""
    return cache.add(_mark(request, person, what), True, KEPT)


def not_sent_after_all(request: HttpRequest, person: Person, what: str) -> None:
    """Nothing came of it: the same form may be sent again."""
    cache.delete(_mark(request, person, what))


def _mark(request: HttpRequest, person: Person, what: str) -> str:
    return f"{what}-form:{person.pk}:{_form_key(request)}"


def _form_key(request: HttpRequest) -> uuid.UUID:
    """The key that the form carries; a new one where it carries none."""
    try:
        return uuid.UUID(request.POST.get("key", ""))
    except ValueError:
        return new_form_key()
