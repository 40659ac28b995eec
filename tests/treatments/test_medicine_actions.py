"""The writers of the medicine record: what they keep, what they refuse, what stays of what was changed."""

import datetime as dt
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.http import Http404

from tests.apiaries.test_access import ABSENT, REFUSED, SEEN, answer
from tests.cast import Cast
from tests.treatments.making import LATER, treat
from treatments.access import (
    editable_disposal_for,
    editable_purchase_for,
    recordable_keeper_for,
)
from treatments.actions import AlreadyClosed, NotPossible, cancel_treatment
from treatments.entry_keys import EntryKeyReused
from treatments.medicine_actions import (
    NewDisposal,
    NewPurchase,
    RecordFields,
    complete_record,
    correct_disposal,
    correct_purchase,
    record_disposal,
    record_purchase,
    void_disposal,
    void_purchase,
)
from treatments.models import MedicineDisposal, MedicinePurchase

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("reference")]
DAY = dt.date(2026, 7, 3)
TOLD = RecordFields(product="acid crystals", batch="A12", supplier="Shop", withdrawal_days=0)


def bought(cast: Cast, **more: Any) -> MedicinePurchase:
    fields = {"product": "acid crystals", "bought_on": DAY, "quantity": Decimal(35), "unit": "g"} | more
    return record_purchase(keeper=cast.alice, new=NewPurchase(**fields), at=LATER, by=cast.alice)


def disposed(cast: Cast, **more: Any) -> MedicineDisposal:
    fields = {"product": "old strips", "disposed_on": DAY, "quantity": Decimal(4), "unit": "strips"} | more
    return record_disposal(keeper=cast.alice, new=NewDisposal(**fields), at=LATER, by=cast.alice)


def test_purchase_is_kept_as_told(cast: Cast) -> None:
    purchase = bought(cast, product="  acid crystals ", batch="A12", withdrawal_days=0)
    purchase.refresh_from_db()
    assert (purchase.product, purchase.batch, purchase.withdrawal_days) == ("acid crystals", "A12", 0)
    assert (purchase.keeper, purchase.recorded_by, purchase.recorded_at) == (cast.alice, cast.alice, LATER)


def test_same_entry_key_makes_one(cast: Cast) -> None:
    new = NewPurchase(product="acid", bought_on=DAY, quantity=Decimal(1), unit="g")
    kept = [record_purchase(keeper=cast.alice, new=new, at=LATER, by=cast.alice) for _ in range(2)]
    assert kept[0] == kept[1] == MedicinePurchase.objects.get()
    with pytest.raises(EntryKeyReused):
        record_purchase(keeper=cast.charlie, new=new, at=LATER, by=cast.charlie)


@pytest.mark.parametrize("change", [{"quantity": Decimal(0)}, {"product": " "}, {"unit": ""}])
def test_purchase_of_nothing_is_refused(cast: Cast, change: dict[str, Any]) -> None:
    with pytest.raises((IntegrityError, ValidationError)), transaction.atomic():
        bought(cast, **change)
    assert not MedicinePurchase.objects.exists()


def test_day_to_come_is_refused(cast: Cast) -> None:
    with pytest.raises(NotPossible):
        bought(cast, bought_on=LATER.date() + dt.timedelta(days=2))
    with pytest.raises(NotPossible):
        disposed(cast, disposed_on=LATER.date() + dt.timedelta(days=2))


def test_voided_once_with_who_and_why(cast: Cast) -> None:
    for entry, void in ((bought(cast), void_purchase), (disposed(cast), void_disposal)):
        name = "purchase" if isinstance(entry, MedicinePurchase) else "disposal"
        voided = void(**{name: entry}, why=" typed twice ", at=LATER, by=cast.alice)
        assert (voided.voided_at, voided.voided_by, voided.voided_why) == (LATER, cast.alice, "typed twice")
        with pytest.raises(AlreadyClosed):
            void(**{name: entry}, why="again", at=LATER, by=cast.alice)
        assert type(entry).objects.count() == 1


def test_correction_stands_in_the_place_of_what_stays(cast: Cast) -> None:
    old = bought(cast)
    new = NewPurchase(product="acid crystals", bought_on=DAY, quantity=Decimal(53), unit="g")
    for _ in range(2):  # sent twice, kept once
        made = correct_purchase(purchase=old, new=new, why="misread", at=LATER, by=cast.alice)
    old.refresh_from_db()
    assert (made.corrects, made.quantity, old.voided_why, old.quantity) == (old, 53, "misread", 35)
    assert list(MedicinePurchase.objects.standing()) == [made]
    with pytest.raises(AlreadyClosed):
        correct_purchase(
            purchase=old, new=replace(new, entry_key=bought(cast).entry_key), why="x", at=LATER, by=cast.alice
        )


def test_correction_with_anothers_key_changes_nothing(cast: Cast) -> None:
    old, other = disposed(cast), disposed(cast)
    new = NewDisposal(product="x", disposed_on=DAY, quantity=Decimal(1), unit="g", entry_key=other.entry_key)
    with pytest.raises(EntryKeyReused):
        correct_disposal(disposal=old, new=new, why="misread", at=LATER, by=cast.alice)
    old.refresh_from_db()
    assert old.voided_at is None


@pytest.mark.parametrize(
    "change",
    [
        {"voided_at": LATER},
        {"voided_why": "x"},
        {"quantity": 0},
        {"product": ""},
        {"unit": ""},
        {"ingredient": "soap"},
        {"ingredient": "queen_caging"},
        {"withdrawal_days": 366},
    ],
)
@pytest.mark.owner
def test_postgresql_refuses_halves(cast: Cast, change: dict[str, Any]) -> None:
    purchase = bought(cast)
    with pytest.raises(IntegrityError), transaction.atomic():
        MedicinePurchase.objects.filter(pk=purchase.pk).update(**change)


def test_record_is_filled_in_without_a_reason_and_changed_with_one(cast: Cast) -> None:
    treatment = treat([cast.colony])
    complete_record(treatment=treatment, told=TOLD, why="", at=LATER, by=cast.alice)
    changed = replace(TOLD, batch="A13")
    with pytest.raises(NotPossible):
        complete_record(treatment=treatment, told=changed, why=" ", at=LATER, by=cast.alice)
    complete_record(treatment=treatment, told=changed, why="misread", at=LATER, by=cast.bob)
    treatment.refresh_from_db()
    assert (treatment.batch, treatment.withdrawal_days) == ("A13", 0)
    kept = list(type(treatment).pgh_event_model.objects.filter(pgh_obj=treatment).order_by("pgh_id"))
    assert [event.batch for event in kept] == ["", "A12", "A13"]
    assert kept[-1].pgh_context.metadata == {
        "by": cast.bob.pk,
        "verb": "complete_record",
        "why": "misread",
        "at": LATER.isoformat(),
    }


def test_withdrawal_of_0_is_something_that_was_written(cast: Cast) -> None:
    treatment = treat([cast.colony], withdrawal_days=0)
    with pytest.raises(NotPossible):
        complete_record(
            treatment=treatment, told=RecordFields(withdrawal_days=7), why="", at=LATER, by=cast.alice
        )


def test_same_values_change_nothing(cast: Cast) -> None:
    treatment = treat([cast.colony], product="acid crystals", batch="A12", supplier="Shop", withdrawal_days=0)
    complete_record(treatment=treatment, told=TOLD, why="", at=LATER, by=cast.alice)
    assert type(treatment).pgh_event_model.objects.filter(pgh_obj=treatment).count() == 1


def test_cancelled_treatment_keeps_its_record(cast: Cast) -> None:
    treatment = treat([cast.colony])
    cancel_treatment(treatment=treatment, why="rain", at=LATER, by=cast.alice)
    with pytest.raises(AlreadyClosed):
        complete_record(treatment=treatment, told=TOLD, why="", at=LATER, by=cast.alice)


@pytest.mark.parametrize(
    ("name", "logs", "edits"),
    [
        ("alice", SEEN, SEEN),
        ("bob", SEEN, REFUSED),
        ("ines", REFUSED, REFUSED),
        ("charlie", ABSENT, ABSENT),
        ("dana", ABSENT, ABSENT),
        ("ivan", ABSENT, ABSENT),
        ("adam", ABSENT, ABSENT),
        ("zoe", ABSENT, ABSENT),
    ],
)
def test_gates_of_alices_record(cast: Cast, name: str, logs: str, edits: str) -> None:
    person = getattr(cast, name)
    purchase, disposal = bought(cast), disposed(cast)
    gates: list[Callable[..., Any]] = [editable_purchase_for, editable_disposal_for]
    assert answer(recordable_keeper_for, person, cast.alice.pk) == logs
    assert [answer(gate, person, one.pk) for gate, one in zip(gates, (purchase, disposal), strict=True)] == [
        edits,
        edits,
    ]


def test_helper_corrects_what_they_logged(cast: Cast) -> None:
    new = NewPurchase(product="acid", bought_on=DAY, quantity=Decimal(1), unit="g")
    purchase = record_purchase(keeper=cast.alice, new=new, at=LATER, by=cast.bob)
    assert editable_purchase_for(cast.bob, purchase.pk) == purchase
    with pytest.raises(Http404):
        editable_purchase_for(cast.charlie, purchase.pk)
