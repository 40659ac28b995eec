"""The only writers of the chain of a medicine record: in the transaction of what they note, one keeper at a time."""

import secrets
import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from django.db import connection, transaction
from django.db.models import Q
from django.utils import timezone

from apiaries.models import Person
from treatments.chain import NO_DIGEST, NO_LINK, Head, Link, What, digest_of, hash_of, what_follows
from treatments.chain_texts import Stands, kept_standing, keys_of_locked, locked_standing, uses_standing
from treatments.models import LockedEntry, MedicineLink, MedicineSalt

LOCK = 9_021
"""The class of our advisory locks; the keeper is the second number."""
Key = tuple[str, uuid.UUID]
"""Kind and key of an entry."""


def hold_chain(keeper: int) -> None:
    """Until the transaction ends nobody else appends to this keeper's chain. Taken after yards, before nothing."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s, %s)", [LOCK, keeper])


@transaction.atomic
def note(keeper: int, entries: Iterable[Stands], *, what: What | None = None) -> int:
    """Append a link for each entry that is not as its last link says; how many. `what`: else it follows from before.

    As many queries for a hundred entries as for two.
    """
    chain = _held(keeper)
    stand = list(entries)
    keys = [(one.kind.value, one.entry) for one in stand]
    lasts, salts = _lasts(keys), _salts(keys)
    for one, key in zip(stand, keys, strict=True):
        last, digest = lasts.get(key), digest_of(salts[key], one.text)
        if last is not None and last.digest == digest:
            continue
        was_voided = last is not None and last.what in (What.VOIDED, What.CORRECTED)
        before = last.as_value() if last else None
        chain.add(*key, what or what_follows(before, voided=one.voided, was_voided=was_voided), digest)
    return chain.keep()


def note_uses(treatments: Iterable[int], *, what: What | None = None) -> None:
    """The treatments with these keys changed, or came."""
    keys = list(treatments)
    keepers = set(Person.objects.filter(yards__treatments__in=keys).values_list("pk", flat=True))
    for keeper in sorted(keepers):
        note(keeper, uses_standing(Q(pk__in=keys, yard__keeper=keeper)), what=what)


@transaction.atomic
def end(keeper: int, entries: Iterable[tuple[str, uuid.UUID]]) -> int:
    """These entries lawfully end: a link without a digest for each, and their salt goes. How many."""
    chain = _held(keeper)
    keys = list(entries)
    lasts = _lasts(keys)
    for key in keys:
        if key in lasts and lasts[key].what != What.ENDED:
            chain.add(*key, What.ENDED, NO_DIGEST)
            MedicineSalt.objects.filter(kind=key[0], entry=key[1]).delete()
    return chain.keep()


def lock_chain(person: Person) -> None:
    """The person is forgotten: entries under lock get a link over what is under lock, with a salt of its own; the
    others end."""
    locked = list(locked_standing(Q(keeper=person)))
    under = {(one.kind.value, one.entry) for one in locked}
    mine = [*uses_standing(Q(yard__keeper=person)), *kept_standing(Q(keeper=person))]
    MedicineSalt.objects.filter(entry__in=[one.entry for one in locked]).delete()
    note(person.pk, locked, what=What.LOCKED)
    end(person.pk, [(one.kind.value, one.entry) for one in mine if (one.kind.value, one.entry) not in under])


def end_locked(rows: Iterable[LockedEntry]) -> None:
    """Entries under lock whose day is over: before they are deleted."""
    found = list(rows)
    keys = keys_of_locked(found)
    for keeper in sorted({one.keeper_id for one in found}):
        end(keeper, [(one.kind, keys[one.kind, one.entry_id]) for one in found if one.keeper_id == keeper])


def chain_heads() -> list[Head]:
    """The head of every keeper's chain, for the manifest of a backup: what was cut off later is missed there."""
    heads = MedicineLink.objects.order_by("keeper", "-number").distinct("keeper")
    return [one.as_head() for one in heads]


def head_of(keeper: int) -> Head | None:
    """The head of one keeper's chain; None before anything was recorded."""
    last = MedicineLink.objects.filter(keeper=keeper).order_by("-number").first()
    return last.as_head() if last else None


@dataclass
class _Chain:
    """The end of a keeper's chain, held, and the links that will follow it."""

    keeper: int
    number: int
    previous: str
    rows: list[MedicineLink] = field(default_factory=list)

    def add(self, kind: str, entry: uuid.UUID, what: What, digest: str) -> None:
        link = Link(
            keeper=self.keeper,
            number=self.number + 1,
            kind=kind,
            entry=str(entry),
            what=str(what),
            digest=digest,
            previous=self.previous,
            at=timezone.now(),
        )
        row = MedicineLink(keeper_id=self.keeper, number=link.number, kind=kind, entry=entry, what=link.what)
        row.digest, row.previous, row.at, row.hash = digest, link.previous, link.at, hash_of(link)
        self.rows.append(row)
        self.number, self.previous = link.number, row.hash

    def keep(self) -> int:
        """Store what was added; how many links."""
        MedicineLink.objects.bulk_create(self.rows)
        return len(self.rows)


def _held(keeper: int) -> _Chain:
    """The chain, to be appended to by nobody else until the transaction ends."""
    hold_chain(keeper)
    head = head_of(keeper)
    return _Chain(keeper, head.number, head.hash) if head else _Chain(keeper, 0, NO_LINK)


def _lasts(keys: Sequence[Key]) -> dict[Key, MedicineLink]:
    """The last link of each entry that has one."""
    links = MedicineLink.objects.filter(entry__in={entry for _, entry in keys})
    found = links.order_by("kind", "entry", "-number").distinct("kind", "entry")
    return {(one.kind, one.entry): one for one in found}


def _salts(keys: Sequence[Key]) -> dict[Key, str]:
    """The salt of each entry; those that have none get one."""
    kept = MedicineSalt.objects.filter(entry__in={entry for _, entry in keys})
    salts = {(one.kind, one.entry): one.salt for one in kept}
    fresh = {key: secrets.token_hex(32) for key in keys if key not in salts}
    MedicineSalt.objects.bulk_create(
        [MedicineSalt(kind=kind, entry=entry, salt=salt) for (kind, entry), salt in fresh.items()]
    )
    return salts | fresh
