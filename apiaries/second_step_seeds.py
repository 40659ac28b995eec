"""Seeds of authenticator apps and of recovery codes, sealed before they reach the database.

Whoever reads a stolen backup then has no second step of anybody: the key stands outside the database, in
SECOND_STEP_KEY. Without one, seeds stay as allauth keeps them, in plain text. What was kept plain is read all the same,
so that a key can be set at any time; `manage.py seal_second_steps` seals what is there already.

Sealed by Fernet (AES-128 in CBC mode and HMAC-SHA256, encrypt then authenticate), under keys that HKDF (RFC 5869)
makes of the settings' words.
"""

from base64 import urlsafe_b64encode
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from enum import StrEnum
from functools import lru_cache
from typing import Any

from allauth.mfa.adapter import DefaultMFAAdapter
from allauth.mfa.models import Authenticator
from allauth.mfa.totp.internal.auth import generate_totp_secret
from cryptography.fernet import Fernet, InvalidToken, MultiFernet
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from django.conf import settings
from django.db import transaction

SEALED = "sealed:"
"""Stands in front of what is sealed. A plain seed has letters and digits only."""
FIELDS = ("secret", "seed", "migrated_codes")
"""Of an authenticator's `data`: an app's, that of recovery codes, and codes brought along from elsewhere (a list)."""


class UnreadableSeed(Exception):
    """A seed is sealed under a key that SECOND_STEP_KEY does not hold: no code can be checked."""


class Kept(StrEnum):
    """How a seed lies in the database."""

    NEWEST = "under the newest key"
    EARLIER = "under an earlier key"
    PLAIN = "in plain text"
    UNREADABLE = "under a key that is not here"


class SealedSeeds(DefaultMFAAdapter):
    """allauth's own, but for how it keeps seeds."""

    def encrypt(self, text: str) -> str:
        return seal(text)

    def decrypt(self, encrypted_text: str) -> str:
        try:
            return unsealed(encrypted_text)
        except UnreadableSeed as unreadable:
            passed = _passed.get()
            if passed is None:
                raise
            passed.append(unreadable)
            return generate_totp_secret()  # another each time: nobody can have its codes


_passed: ContextVar[list[UnreadableSeed] | None] = ContextVar("passed", default=None)


@contextmanager
def passing_over() -> Iterator[list[UnreadableSeed]]:
    """While a code is held against all that somebody has: gives what could not be read, and goes on."""
    passed: list[UnreadableSeed] = []
    token = _passed.set(passed)
    try:
        yield passed
    finally:
        _passed.reset(token)


def seal(seed: str) -> str:
    """As it is to be kept: under the newest key, or as it is where there is none."""
    locks = _locks(settings.SECOND_STEP_KEYS)
    return SEALED + MultiFernet(locks).encrypt(seed.encode()).decode() if locks else seed


def unsealed(kept: str) -> str:
    """The seed. Raises UnreadableSeed."""
    if not kept.startswith(SEALED):
        return kept
    locks = _locks(settings.SECOND_STEP_KEYS)
    if not locks:
        raise UnreadableSeed("A second step is sealed, and SECOND_STEP_KEY is not set.")
    try:
        return MultiFernet(locks).decrypt(kept.removeprefix(SEALED)).decode()
    except (InvalidToken, ValueError):  # not ASCII: spoilt by hand
        raise UnreadableSeed("A second step is sealed under a key that SECOND_STEP_KEY lacks.") from None


def kept_how(kept: str) -> Kept:
    if not kept.startswith(SEALED):
        return Kept.PLAIN
    try:
        unsealed(kept)
    except UnreadableSeed:
        return Kept.UNREADABLE
    try:
        _locks(settings.SECOND_STEP_KEYS)[0].decrypt(kept.removeprefix(SEALED))
    except InvalidToken:
        return Kept.EARLIER
    return Kept.NEWEST


def can_be_read(data: dict[str, Any]) -> bool:
    """Whether all seeds in an authenticator's `data` can."""
    return Kept.UNREADABLE not in [kept_how(seed) for seed in _seeds(data)]


def to_seal(kept: Counter[Kept]) -> int:
    """How many of them `seal_all` would seal."""
    return kept[Kept.PLAIN] + kept[Kept.EARLIER]


def all_kept() -> Counter[Kept]:
    """How many seeds lie how. One query."""
    found = Authenticator.objects.values_list("data", flat=True).iterator()
    return Counter(kept_how(seed) for data in found for seed in _seeds(data))


def seal_all() -> Counter[Kept]:
    """Seal anew whatever can be read and is not under the newest key. How many lay how before.

    Row by row and locked, as a recovery code may be struck out at the same time. Safe to break off and to say again;
    what a page wrote back meanwhile without a lock, `all_kept` shows.
    """
    before = Counter[Kept]()
    for key in Authenticator.objects.order_by("pk").values_list("pk", flat=True):
        with transaction.atomic():
            rows = Authenticator.objects.select_for_update().filter(pk=key)
            for data in rows.values_list("data", flat=True):
                found = Counter(kept_how(seed) for seed in _seeds(data))
                before += found
                if to_seal(found):
                    # No signal: nobody's second step has changed, so nobody is told and nobody signed out.
                    rows.update(
                        data=data | {name: _sealed_anew(data[name]) for name in FIELDS if data.get(name)}
                    )
    return before


def _sealed_anew(kept: Any) -> Any:
    if isinstance(kept, list):
        return [_sealed_anew(one) for one in kept]
    return kept if kept_how(kept) is Kept.UNREADABLE else seal(unsealed(kept))


def _seeds(data: dict[str, Any]) -> list[str]:
    """The seeds in an authenticator's `data`; none where there is only the place of one."""
    found = [data.get(name) or [] for name in FIELDS]
    return [seed for one in found for seed in ([one] if isinstance(one, str) else one)]


@lru_cache(maxsize=4)
def _locks(keys: tuple[str, ...]) -> tuple[Fernet, ...]:
    return tuple(
        Fernet(
            urlsafe_b64encode(
                HKDF(SHA256(), 32, salt=None, info=b"recount second steps").derive(key.encode())
            )
        )
        for key in keys
    )
