"""What an entry of the medicine record says, as the text that goes into its chain."""

import uuid
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from typing import Any

from django.db.models import Q

from treatments.chain import canonical
from treatments.ingredients import Ingredient, is_biotechnical
from treatments.medicine import Entry
from treatments.models import Dose, LockedEntry, MedicineDisposal, MedicinePurchase, Round, Treatment

NO_MEDICINE = [one.value for one in Ingredient if is_biotechnical(one)]

KEPT = ("keeper_id", "product", "batch", "quantity", "unit", "entry_key", "recorded_at", "recorded_by_id")
STRUCK = ("voided_at", "voided_by_id", "corrects_id")
COLUMNS: dict[str, tuple[str, ...]] = {
    "treatment": (
        *("yard_id", "product", "batch", "registration", "supplier", "supplier_address", "proof", "vet"),
        *("given_by", "withdrawal_days", "entry_key", "recorded_at", "recorded_by_id"),
        *("cancelled_at", "cancelled_by_id"),
    ),
    "round": ("number", "planned_on", "given_on", "out_on", "out_by"),
    "dose": ("colony_id", "amount", "unit", "ingredient", "in_hive", "voided_at", "voided_by_id"),
    "medicinepurchase": (
        *(*KEPT, *STRUCK, "bought_on", "ingredient", "supplier", "supplier_address", "proof"),
        *("withdrawal_days", "expires_on"),
    ),
    "medicinedisposal": (*KEPT, *STRUCK, "disposed_on", "how", "place"),
    "lockedentry": (
        *("keeper_id", "club_id", "kind", "entry_id", "last_on", "kept_until", "regime", "years", "only_if"),
        *("source", "content", "locked_at"),
    ),
}
"""What of a row is in the text. A column more would change the text of every entry there is, and all would differ
from their links: a new one is added to the text only where it holds something."""

LEFT_OUT = {
    "id": "our own number",
    "treatment_id": "the round stands in its treatment's text",
    "round_id": "the dose stands in its round's text",
    "application_id": "the text names the way by its key",
    # Words beside an entry that no rule asks for: they go when whoever wrote them is forgotten, and the entry stays.
    **dict.fromkeys(("note", "cancelled_why", "voided_why", "why_above"), "a remark"),
}


@dataclass(frozen=True, slots=True)
class Stands:
    """One entry as it stands now."""

    kind: Entry
    entry: uuid.UUID
    text: str
    voided: bool


def _row(row: Any) -> dict[str, object]:
    """Those columns of a row that its text has."""
    return {name: getattr(row, name) for name in COLUMNS[row._meta.model_name]}


def uses_standing(which: Q) -> Iterator[Stands]:
    """Treatments with a medicine of which a round was given; three queries however many there are."""
    given = Treatment.objects.filter(which, rounds__given_on__isnull=False)
    found = given.exclude(application__ingredient__in=NO_MEDICINE).distinct().select_related("application")
    for one in found.prefetch_related("rounds__doses").order_by("pk"):
        rounds = [_round(round_) for round_ in sorted(one.rounds.all(), key=lambda round_: round_.number)]
        told = _row(one) | {"kind": "use", "way": one.application.key, "rounds": rounds}
        yield Stands(Entry.USE, one.entry_key, canonical(told), one.cancelled_at is not None)


def _round(round_: Round) -> dict[str, object]:
    doses = sorted(round_.doses.all(), key=lambda dose: dose.pk)
    return _row(round_) | {"doses": [_dose(dose) for dose in doses]}


def _dose(dose: Dose) -> dict[str, object]:
    in_hive = [dose.in_hive.lower, dose.in_hive.upper]
    return _row(dose) | {"in_hive": in_hive}


def kept_standing(which: Q) -> Iterator[Stands]:
    """Purchases and disposals."""
    for kind, model in ((Entry.PURCHASE, MedicinePurchase), (Entry.DISPOSAL, MedicineDisposal)):
        for one in model._default_manager.filter(which).order_by("pk"):
            yield Stands(
                kind, one.entry_key, canonical(_row(one) | {"kind": kind}), one.voided_at is not None
            )


def locked_standing(which: Q) -> Iterator[Stands]:
    """Entries under lock."""
    rows = list(LockedEntry.objects.filter(which).order_by("pk"))
    keys = keys_of_locked(rows)
    for one in rows:
        yield Stands(Entry(one.kind), keys[one.kind, one.entry_id], canonical(_row(one)), False)


def keys_of_locked(rows: Collection[LockedEntry]) -> dict[tuple[str, int], uuid.UUID]:
    """The keys of the rows that they were made from."""
    models = {Entry.USE: Treatment, Entry.PURCHASE: MedicinePurchase, Entry.DISPOSAL: MedicineDisposal}
    found: dict[tuple[str, int], uuid.UUID] = {}
    for kind, model in models.items():
        wanted = [one.entry_id for one in rows if one.kind == kind]
        pairs = model._default_manager.filter(pk__in=wanted).values_list("pk", "entry_key")
        found |= {(kind.value, pk): key for pk, key in pairs}
    return found
