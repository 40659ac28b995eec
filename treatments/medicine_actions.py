"""The only writers of the medicine record beside the doses: purchases, disposals, what the pack and the bill say.

Callers have passed a gate first. Nothing is erased: an entry is voided or corrected, with who, when and why.
"""

import datetime as dt
import uuid
from dataclasses import asdict, dataclass, field
from decimal import Decimal
from typing import TypeVar

import pghistory
from django.db.models import Q

from apiaries.history import action
from apiaries.language import say
from apiaries.models import Person
from treatments.actions import AlreadyClosed, NotPossible
from treatments.chain import What
from treatments.chain_actions import note
from treatments.chain_texts import kept_standing
from treatments.entry_keys import reuse_told
from treatments.models import MedicineDisposal, MedicinePurchase, Treatment
from treatments.signals import treatment_changed

Kept = TypeVar("Kept", MedicinePurchase, MedicineDisposal)


@dataclass(frozen=True, kw_only=True)
class NewPurchase:
    """A medicine that the keeper bought. `withdrawal_days` is the label's, and 0 must be said."""

    product: str
    bought_on: dt.date
    quantity: Decimal
    unit: str
    ingredient: str = ""
    batch: str = ""
    supplier: str = ""
    supplier_address: str = ""
    proof: str = ""
    withdrawal_days: int | None = None
    expires_on: dt.date | None = None
    note: str = ""
    entry_key: uuid.UUID = field(default_factory=uuid.uuid4)


@dataclass(frozen=True, kw_only=True)
class NewDisposal:
    """A medicine that the keeper disposed of."""

    product: str
    disposed_on: dt.date
    quantity: Decimal
    unit: str
    batch: str = ""
    how: str = ""
    place: str = ""
    note: str = ""
    entry_key: uuid.UUID = field(default_factory=uuid.uuid4)


@dataclass(frozen=True, kw_only=True)
class RecordFields:
    """What a medicine record needs of a treatment beside its days and doses."""

    product: str = ""
    batch: str = ""
    registration: str = ""
    supplier: str = ""
    supplier_address: str = ""
    proof: str = ""
    vet: str = ""
    given_by: str = ""
    withdrawal_days: int | None = None


RECORD_FIELDS = tuple(RecordFields.__dataclass_fields__)


@action
def record_purchase(*, keeper: Person, new: NewPurchase, at: dt.datetime, by: Person) -> MedicinePurchase:
    """Keep a purchase. The same entry key makes no second one.

    Errors: NotPossible for a day to come; EntryKeyReused if the key is another's.
    """
    _refuse_future(new.bought_on, at=at, by=by)
    return _recorded(MedicinePurchase(keeper=keeper, **_trimmed(asdict(new))), at=at, by=by)


@action
def record_disposal(*, keeper: Person, new: NewDisposal, at: dt.datetime, by: Person) -> MedicineDisposal:
    """Keep a disposal. Errors as of `record_purchase`."""
    _refuse_future(new.disposed_on, at=at, by=by)
    return _recorded(MedicineDisposal(keeper=keeper, **_trimmed(asdict(new))), at=at, by=by)


@action
def correct_purchase(
    *, purchase: MedicinePurchase, new: NewPurchase, why: str, at: dt.datetime, by: Person
) -> MedicinePurchase:
    """Put a corrected purchase in the place of one that stays to be seen. Errors: AlreadyClosed and as above."""
    _refuse_future(new.bought_on, at=at, by=by)
    made = MedicinePurchase(keeper=purchase.keeper, corrects=purchase, **_trimmed(asdict(new)))
    return _in_place_of(purchase, made, why=why, at=at, by=by)


@action
def correct_disposal(
    *, disposal: MedicineDisposal, new: NewDisposal, why: str, at: dt.datetime, by: Person
) -> MedicineDisposal:
    """Put a corrected disposal in the place of one that stays to be seen. Errors as of `correct_purchase`."""
    _refuse_future(new.disposed_on, at=at, by=by)
    made = MedicineDisposal(keeper=disposal.keeper, corrects=disposal, **_trimmed(asdict(new)))
    return _in_place_of(disposal, made, why=why, at=at, by=by)


@action
def void_purchase(*, purchase: MedicinePurchase, why: str, at: dt.datetime, by: Person) -> MedicinePurchase:
    """It was entered by mistake. It stays to be seen, struck through."""
    return _voided(purchase, why=why, at=at, by=by)


@action
def void_disposal(*, disposal: MedicineDisposal, why: str, at: dt.datetime, by: Person) -> MedicineDisposal:
    """It was entered by mistake. It stays to be seen, struck through."""
    return _voided(disposal, why=why, at=at, by=by)


@action
def complete_record(
    *, treatment: Treatment, told: RecordFields, why: str, at: dt.datetime, by: Person
) -> Treatment:
    """Fill in or correct what the pack and the bill say. What stood there before stays in the history, with the reason.

    The same values once more change nothing. Errors: AlreadyClosed if it was cancelled; NotPossible if something
    that was written is changed without a reason.
    """
    locked = Treatment.objects.select_for_update(of=("self",), no_key=True).get(pk=treatment.pk)
    if locked.cancelled_at is not None:
        raise AlreadyClosed("This treatment was cancelled before.")
    values = _trimmed(asdict(told))
    changed = {name: value for name, value in values.items() if getattr(locked, name) != value}
    if any(getattr(locked, name) not in ("", None) for name in changed) and not why.strip():
        raise NotPossible(say("Say why something that was written down changes."))
    if not changed:
        return locked
    for name, value in changed.items():
        setattr(locked, name, value)
    locked.clean_fields()
    with pghistory.context(why=why.strip(), at=at.isoformat()):
        locked.save(update_fields=list(changed))
    treatment_changed.send(Treatment, treatment=locked)
    return locked


def _trimmed(values: dict[str, object]) -> dict[str, object]:
    return {name: value.strip() if isinstance(value, str) else value for name, value in values.items()}


def _refuse_future(on: dt.date, *, at: dt.datetime, by: Person) -> None:
    # A keeper's yards may lie in several zones; a day that has begun anywhere is no day to come.
    if on > (at + dt.timedelta(hours=14)).astimezone(dt.UTC).date():
        raise NotPossible(say("This day is still to come."))


def _recorded(entry: Kept, *, at: dt.datetime, by: Person) -> Kept:
    """Keep it, or give back what the same form kept before."""
    # Two sends of one form at the same instant: the second waits here, then finds what the first kept.
    Person.objects.select_for_update(no_key=True).get(pk=entry.keeper_id)
    earlier = type(entry).objects.filter(entry_key=entry.entry_key).first()
    if earlier is not None and (earlier.keeper_id, earlier.recorded_by_id) == (entry.keeper_id, by.pk):
        return earlier
    entry.recorded_at, entry.recorded_by = at, by
    entry.clean_fields()
    with reuse_told():
        entry.save(force_insert=True)
    _note(entry)
    return entry


def _in_place_of(old: Kept, new: Kept, *, why: str, at: dt.datetime, by: Person) -> Kept:
    earlier = type(old).objects.filter(corrects=old, entry_key=new.entry_key, recorded_by=by).first()
    if earlier is not None:  # the form was sent twice
        return earlier
    _voided(old, why=why, at=at, by=by, what=What.CORRECTED)
    new.recorded_at, new.recorded_by = at, by
    new.clean_fields()
    with reuse_told():
        new.save(force_insert=True)
    _note(new)
    return new


def _voided(entry: Kept, *, why: str, at: dt.datetime, by: Person, what: What = What.VOIDED) -> Kept:
    locked = type(entry).objects.select_for_update(of=("self",)).get(pk=entry.pk)
    if locked.voided_at is not None:
        raise AlreadyClosed("This entry was voided or corrected before.")
    locked.voided_at, locked.voided_by, locked.voided_why = at, by, why.strip()
    locked.save(update_fields=["voided_at", "voided_by", "voided_why"])
    _note(locked, what)
    return locked


def _note(entry: Kept, what: What | None = None) -> None:
    """In the chain of the keeper's record."""
    note(entry.keeper_id, kept_standing(Q(entry_key=entry.entry_key)), what=what)
