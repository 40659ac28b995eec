"""The chain of a medicine record: what text is taken, how it is hashed, and where a chain is broken. Pure.

docs/adr/0021-medicine-records-are-chained.md says why.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Any

NO_LINK = "0" * 64
"""Stands for the hash before the first link."""
NO_DIGEST = ""
"""Stands for the digest of an entry that has ended: nothing of it is left to be hashed."""
SHORT = 16
"""Hexadecimal digits of a hash that are read out or compared by eye (our choice)."""


class What(StrEnum):
    """What happened to an entry."""

    TAKEN_IN = "taken_in"
    RECORDED = "recorded"
    BROUGHT_BACK = "brought_back"
    CHANGED = "changed"
    VOIDED = "voided"
    CORRECTED = "corrected"
    LOCKED = "locked"
    ENDED = "ended"


class Broken(StrEnum):
    """What is wrong with a chain or an entry."""

    NUMBER = "number"
    PREVIOUS = "previous"
    HASH = "hash"
    HEAD = "head"
    ENTRY_DIFFERS = "entry_differs"
    ENTRY_GONE = "entry_gone"
    NO_LINK_OF_ENTRY = "no_link_of_entry"
    STILL_THERE = "still_there"


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """One link of a keeper's chain, as it is stored."""

    keeper: int
    number: int
    kind: str
    entry: str
    what: str
    digest: str
    previous: str
    at: dt.datetime
    hash: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """How many links a keeper's chain has, the hash of the last and when it was made."""

    keeper: int
    number: int
    hash: str
    at: dt.datetime

    @property
    def short(self) -> str:
        """The first digits in groups of four."""
        return " ".join(self.hash[i : i + 4] for i in range(0, SHORT, 4))


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing that is wrong. `number`: of the link, None where an entry has none."""

    keeper: int
    broken: Broken
    number: int | None
    kind: str = ""
    entry: str = ""


def told(value: object) -> Any:
    """A value as the text has it: days and moments in ISO 8601 (UTC), amounts with three decimals, else as it is."""
    if isinstance(value, dt.datetime):
        return value.astimezone(dt.UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return f"{value:.3f}"
    if value is None or isinstance(value, (str, int)):
        return value
    if isinstance(value, Mapping):
        return {str(name): told(one) for name, one in value.items()}
    if isinstance(value, Iterable):
        return [told(one) for one in value]
    return str(value)


def canonical(values: Mapping[str, object]) -> str:
    """JSON in one spelling: names in order, no blanks, nothing but ASCII."""
    return json.dumps(told(values), sort_keys=True, separators=(",", ":"), ensure_ascii=True)


def sha256(text: str) -> str:
    """64 hexadecimal digits."""
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def digest_of(salt: str, text: str) -> str:
    """Of an entry's text. Without the salt nobody finds a short text by trying."""
    return sha256(salt + text)


def hash_of(link: Link) -> str:
    """Over everything a link says, the hash before it included."""
    return sha256(
        canonical(
            {
                "keeper": link.keeper,
                "number": link.number,
                "kind": link.kind,
                "entry": link.entry,
                "what": link.what,
                "digest": link.digest,
                "previous": link.previous,
                "at": link.at,
            }
        )
    )


def first_fault(links: Iterable[Link]) -> Fault | None:
    """The first link, by number, that does not follow from the one before; None for a whole chain."""
    number, previous = 0, NO_LINK
    for link in links:
        broken = None
        if link.number != number + 1:
            broken = Broken.NUMBER
        elif link.previous != previous:
            broken = Broken.PREVIOUS
        elif link.hash != hash_of(link):
            broken = Broken.HASH
        if broken is not None:
            return Fault(
                keeper=link.keeper, broken=broken, number=link.number, kind=link.kind, entry=link.entry
            )
        number, previous = link.number, link.hash
    return None


def what_follows(before: Link | None, *, voided: bool, was_voided: bool) -> What:
    """What a changed text of an entry means: the first link records it, a new strike voids it, all else changes it."""
    if before is None:
        return What.RECORDED
    return What.VOIDED if voided and not was_voided else What.CHANGED
