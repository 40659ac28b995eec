"""The same request twice is one count: Idempotency-Key, after the draft of the IETF's HTTPAPI group (from memory).

The key is the count's entry key, minted by whoever has the fact, when they have it: so a program that got no answer
asks again, and a phone and a program cannot both bring in one count.
"""

import uuid
from collections.abc import Iterator
from contextlib import contextmanager

from django.db import connection, transaction
from rest_framework.request import Request

from apiaries.api.problems import Problem

HEADER = "Idempotency-Key"
_VERSION = 7


def key_of(request: Request) -> uuid.UUID:
    """The key that was sent, as a UUID of version 7 (RFC 9562), with or without quotation marks. Errors: Problem."""
    said = request.headers.get(HEADER)
    if said is None:
        raise _odd(
            f"Send {HEADER} with a new UUID of version 7, and the same one again if you get no answer."
        )
    try:
        key = uuid.UUID(said[1:-1] if len(said) > 1 and said[0] == said[-1] == '"' else said)
    except ValueError:
        raise _odd(f"{HEADER} is no UUID.") from None
    if key.version != _VERSION:
        raise _odd(f"{HEADER} is no UUID of version 7.")
    return key


def reused() -> Problem:
    """422: the key stands for something else. Whose it is, nobody learns."""
    words = "This key was used before, with other facts. Make a new one for another count."
    return Problem(422, "Key used before", words, type="key-used-before")


@contextmanager
def alone_with(key: uuid.UUID) -> Iterator[None]:
    """One transaction that nobody else works in under this key; 409 for whoever comes meanwhile."""
    with transaction.atomic():
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_try_advisory_xact_lock(hashtextextended(%s, 0))", [f"count:{key}"])
            (free,) = cursor.fetchone()
        if not free:
            words = "The first request with this key is still being worked on. Ask again in a moment."
            raise Problem(409, "Still at work", words, type="still-at-work", headers={"Retry-After": "1"})
        yield


def _odd(words: str) -> Problem:
    return Problem(400, "No key", words, type="no-key")
