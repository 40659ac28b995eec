"""The only writers of the chain of a medicine record: in the transaction of what they note, one keeper at a time."""

import secrets
import uuid
from collections.abc import Iterable

from django.db import connection, transaction
from django.db.models import Q
from django.utils import timezone

from apiaries.models import Person
from treatments.chain import NO_DIGEST, NO_LINK, Head, Link, What, digest_of, hash_of, what_follows
from treatments.chain_texts import Stands, kept_standing, keys_of_locked, locked_standing, uses_standing
from treatments.models import LockedEntry, MedicineLink, MedicineSalt

LOCK = 9_021
"""The class of our advisory locks; the keeper is the second number."""


def hold_chain(keeper: int) -> None:
    """Until the transaction ends nobody else appends to this keeper's chain. Taken after yards, before nothing."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s, %s)", [LOCK, keeper])


@transaction.atomic
def note(keeper: int, entries: Iterable[Stands], *, what: What | None = None) -> int:
    """Append a link for each entry that is not as its last link says; how many. `what`: else it follows from before."""
    hold_chain(keeper)
    head = MedicineLink.objects.filter(keeper=keeper).order_by("-number").first()
    number, previous = (head.number, head.hash) if head else (0, NO_LINK)
    rows: list[MedicineLink] = []
    for one in entries:
        last = MedicineLink.objects.filter(kind=one.kind, entry=one.entry).order_by("-number").first()
        salt = _salt(one.kind, one.entry)
        digest = digest_of(salt, one.text)
        if last is not None and last.digest == digest:
            continue
        was_voided = last is not None and last.what in (What.VOIDED, What.CORRECTED)
        before = last.as_value() if last else None
        happened = what or what_follows(before, voided=one.voided, was_voided=was_voided)
        number, previous = _add(rows, keeper, number, previous, one.kind, one.entry, happened, digest)
    MedicineLink.objects.bulk_create(rows)
    return len(rows)


def note_uses(treatments: Iterable[int], *, what: What | None = None) -> None:
    """The treatments with these keys changed, or came."""
    keys = list(treatments)
    keepers = set(Person.objects.filter(yards__treatments__in=keys).values_list("pk", flat=True))
    for keeper in sorted(keepers):
        note(keeper, uses_standing(Q(pk__in=keys, yard__keeper=keeper)), what=what)


@transaction.atomic
def end(keeper: int, entries: Iterable[tuple[str, uuid.UUID]]) -> int:
    """These entries lawfully end: a link without a digest for each, and their salt goes. How many."""
    hold_chain(keeper)
    head = MedicineLink.objects.filter(keeper=keeper).order_by("-number").first()
    number, previous = (head.number, head.hash) if head else (0, NO_LINK)
    rows: list[MedicineLink] = []
    for kind, entry in entries:
        last = MedicineLink.objects.filter(kind=kind, entry=entry).order_by("-number").first()
        if last is None or last.what == What.ENDED:
            continue
        number, previous = _add(rows, keeper, number, previous, kind, entry, What.ENDED, NO_DIGEST)
        MedicineSalt.objects.filter(kind=kind, entry=entry).delete()
    MedicineLink.objects.bulk_create(rows)
    return len(rows)


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
    return [Head(keeper=one.keeper_id, number=one.number, hash=one.hash, at=one.at) for one in heads]


def _salt(kind: str, entry: uuid.UUID) -> str:
    kept, _ = MedicineSalt.objects.get_or_create(
        kind=kind, entry=entry, defaults={"salt": secrets.token_hex(32)}
    )
    return kept.salt


def _add(
    rows: list[MedicineLink],
    keeper: int,
    number: int,
    previous: str,
    kind: str,
    entry: uuid.UUID,
    what: What,
    digest: str,
) -> tuple[int, str]:
    link = Link(
        keeper=keeper,
        number=number + 1,
        kind=str(kind),
        entry=str(entry),
        what=str(what),
        digest=digest,
        previous=previous,
        at=timezone.now(),
    )
    hash_ = hash_of(link)
    row = MedicineLink(keeper_id=keeper, number=link.number, kind=link.kind, entry=entry, what=link.what)
    row.digest, row.previous, row.at, row.hash = digest, previous, link.at, hash_
    rows.append(row)
    return number + 1, hash_
