"""Entries as a phone sends them, a batch at a time: what every kind of entry has in common, read with care.

A phone keeps an entry until it is answered by its own key as saved or here; what is refused stays, with the reason.
"""

import datetime as dt
import json
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from django.http import HttpRequest

from apiaries.language import say
from apiaries.models import Person

KEY_LENGTH_MAX = 64
KEEP_FOR = "X-Keep-For"
"""Whose phone may keep a page without a network; the service worker keeps no answer without it."""


class NotEntries(ValueError):
    """What was sent is no list of entries; the text says why, the status how to answer."""

    def __init__(self, words: str, status: int = 400) -> None:
        super().__init__(words)
        self.status = status


class Refused(ValueError):
    """One entry cannot be kept; the text says why."""


class State(StrEnum):
    """What became of an entry. The phone throws away what is saved or here, and shows what was refused."""

    SAVED = "saved"
    HERE = "here"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True)
class Answer:
    """What became of the entry with this key."""

    key: str | None
    state: State
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Batch:
    """The entries of a request, each still to be read, and all that was sent beside them."""

    entries: Sequence[object]
    told: dict[str, Any]


def body_of(request: HttpRequest, *, bytes_max: int) -> bytes:
    """The JSON that was sent. Errors: NotEntries, with status 413 where it is longer than `bytes_max` bytes."""
    if request.content_type != "application/json":
        raise NotEntries(say("This is no JSON."))
    length = request.META.get("CONTENT_LENGTH") or "0"
    if not length.isdigit() or int(length) > bytes_max:
        raise NotEntries(say("More than {most} bytes at once.", most=bytes_max), status=413)
    return request.body


def batch_in(body: bytes, person: Person, *, most: int, too_many: int = 400) -> Batch:
    """What was sent, as a batch of this person's. Errors: NotEntries, with status 409 where it is somebody else's."""
    try:
        told = json.loads(body)
    except (ValueError, RecursionError) as error:
        raise NotEntries(say("This is no JSON.")) from error
    entries = told.get("entries") if isinstance(told, dict) else None
    if not isinstance(entries, list):
        raise NotEntries(say("A list named entries is missing."))
    if told.get("person", person.pk) != person.pk:
        raise NotEntries(say("Somebody else is signed in."), status=409)
    if len(entries) > most:
        raise NotEntries(say("At most {most} entries at once.", most=most), status=too_many)
    return Batch(entries, told)


def echo_of(told: object) -> str | None:
    """The key as it was sent, if it is one that can be sent back."""
    key = told.get("key") if isinstance(told, dict) else None
    return key if isinstance(key, str) and len(key) <= KEY_LENGTH_MAX and key.isascii() else None


def key_in(told: Any) -> uuid.UUID:
    """A key as it was sent. Errors: Refused."""
    try:
        return uuid.UUID(told) if isinstance(told, str) else uuid.UUID("")
    except ValueError as error:
        raise Refused(say("Its key is no UUID.")) from error


def moment_in(told: Any) -> dt.datetime | None:
    """An instant with its zone, or None where it cannot be read."""
    try:
        moment = dt.datetime.fromisoformat(told) if isinstance(told, str) else None
    except ValueError:
        return None
    return moment if moment is not None and moment.tzinfo is not None else None


def is_text(told: Any) -> bool:
    """Whether a database can keep it: JSON also brings NUL and halves of pairs."""
    return isinstance(told, str) and "\0" not in told and not any("\ud800" <= one <= "\udfff" for one in told)


def moment_words(moment: dt.datetime) -> str:
    """An instant as a phone reads it: UTC, to the millisecond."""
    return moment.astimezone(dt.UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
