"""The chain of medicine records: what is noted, what is refused, what is found."""

import datetime as dt
from decimal import Decimal
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.db import DatabaseError, connection, transaction
from django.utils import timezone

from apiaries.actions import ask_to_leave, forget_person
from apiaries.models import How
from config.grants import grant
from tests.cast import Cast
from tests.plain_role import is_superuser
from tests.treatments.making import treat
from treatments.actions import cancel_treatment
from treatments.chain import Broken, What
from treatments.chain_check import faults_of
from treatments.locking import let_go
from treatments.medicine_actions import (
    NewPurchase,
    RecordFields,
    complete_record,
    correct_purchase,
    record_purchase,
)
from treatments.models import Dose, LockedEntry, MedicineLink, MedicinePurchase, MedicineSalt, Treatment

AT = dt.datetime(2026, 12, 1, 12, tzinfo=dt.UTC)
BOUGHT = NewPurchase(product="Acid", bought_on=dt.date(2026, 7, 1), quantity=Decimal(100), unit="g")


@pytest.fixture
def record(cast: Cast, reference: None) -> Treatment:
    """A treatment that was completed, and a purchase that was corrected."""
    treatment = treat(cast.colonies[:2])
    complete_record(treatment=treatment, told=RecordFields(product="Acid"), why="", at=AT, by=cast.alice)
    bought = record_purchase(keeper=cast.alice, new=BOUGHT, at=AT, by=cast.alice)
    again = NewPurchase(product="Acid", bought_on=BOUGHT.bought_on, quantity=Decimal(90), unit="g")
    correct_purchase(purchase=bought, new=again, why="misread", at=AT, by=cast.alice)
    return treatment


def _noted(cast: Cast) -> list[str]:
    return list(MedicineLink.objects.filter(keeper=cast.alice).values_list("what", flat=True))


def test_everything_that_happens_is_a_link(cast: Cast, record: Treatment) -> None:
    cancel_treatment(treatment=record, why="not done", at=AT, by=cast.alice)

    happened = ["recorded", "changed", "recorded", "corrected", "recorded", "voided"]
    assert _noted(cast) == happened
    assert faults_of(cast.alice.pk) == []


ATTACKS = [
    "UPDATE treatments_medicinelink SET what = 'voided'",
    "UPDATE treatments_medicinelink SET number = number + 10",
    "DELETE FROM treatments_medicinelink",
    "TRUNCATE treatments_medicinelink",
    "SET session_replication_role = replica",
    "ALTER TABLE treatments_medicinelink DISABLE TRIGGER USER",
    "DROP TABLE treatments_medicinelink",
    "DROP TRIGGER links_stay ON treatments_medicinelink",
    "INSERT INTO treatments_medicinelink (keeper_id, number, kind, entry, what, digest, previous, hash, at)"
    " SELECT keeper_id, 2, kind, entry, what, digest, hash, repeat('a', 64), at FROM treatments_medicinelink"
    " WHERE number = 1",
    "INSERT INTO treatments_medicinelink (keeper_id, number, kind, entry, what, digest, previous, hash, at)"
    " SELECT keeper_id, 6, kind, entry, what, digest, repeat('b', 64), repeat('a', 64), at"
    " FROM treatments_medicinelink WHERE number = 1",
]


@pytest.mark.parametrize("attack", ATTACKS)
@pytest.mark.owner
def test_the_role_of_the_application_cannot_rewrite(
    cast: Cast, record: Treatment, role: str, attack: str
) -> None:
    before = list(MedicineLink.objects.values())
    grant(role)

    with connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        with pytest.raises(DatabaseError), transaction.atomic():
            cursor.execute(f"SET LOCAL ROLE {role}")
            cursor.execute(attack)

    assert list(MedicineLink.objects.values()) == before


@pytest.mark.parametrize("attack", ATTACKS[:4])
@pytest.mark.owner
def test_triggers_refuse_it_of_the_owner_too(cast: Cast, record: Treatment, attack: str) -> None:
    with pytest.raises(DatabaseError, match="never changed"), transaction.atomic():
        connection.cursor().execute("SET CONSTRAINTS ALL IMMEDIATE")
        connection.cursor().execute(attack)


@pytest.mark.parametrize(
    ("change", "broken"),
    [
        ("UPDATE treatments_dose SET amount = amount + 1", Broken.ENTRY_DIFFERS),
        ("UPDATE treatments_treatment SET batch = 'other'", Broken.ENTRY_DIFFERS),
        ("UPDATE treatments_round SET given_on = given_on - 1", Broken.ENTRY_DIFFERS),
        ("UPDATE treatments_medicinepurchase SET quantity = 1 WHERE voided_at IS NULL", Broken.ENTRY_DIFFERS),
        ("UPDATE treatments_medicinesalt SET salt = repeat('a', 64)", Broken.ENTRY_DIFFERS),
        ("DELETE FROM treatments_medicinepurchase WHERE voided_at IS NULL", Broken.ENTRY_GONE),
        ("UPDATE treatments_medicinelink SET at = at + interval '1 s' WHERE number = 2", Broken.HASH),
        ("UPDATE treatments_medicinelink SET what = 'voided' WHERE number = 2", Broken.HASH),
        ("DELETE FROM treatments_medicinelink WHERE number = 2", Broken.NUMBER),
        ("UPDATE treatments_medicinelink SET hash = repeat('a', 64) WHERE number = 5", Broken.HASH),
        ("UPDATE treatments_medicinelink SET previous = repeat('a', 64) WHERE number = 3", Broken.PREVIOUS),
    ],
)
@pytest.mark.owner
def test_what_a_superuser_changes_is_found(
    cast: Cast, record: Treatment, change: str, broken: Broken
) -> None:
    with connection.cursor() as cursor:
        if is_superuser():
            cursor.execute("SET LOCAL session_replication_role = replica")
            cursor.execute(change)
            cursor.execute("SET LOCAL session_replication_role = origin")
        else:  # the embedded server's role of tests owns the tables: it may switch our triggers off
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
            cursor.execute("ALTER TABLE treatments_medicinelink DISABLE TRIGGER USER")
            cursor.execute(change)

    assert broken in [fault.broken for fault in faults_of(cast.alice.pk)]
    with pytest.raises(SystemExit):
        call_command("verify_medicine_records", stdout=StringIO())


def test_an_entry_without_a_link_is_found(cast: Cast, record: Treatment) -> None:
    MedicinePurchase.objects.create(
        keeper=cast.alice,
        product="x",
        bought_on=AT.date(),
        quantity=1,
        unit="g",
        recorded_at=AT,
        recorded_by=cast.alice,
    )

    assert [fault.broken for fault in faults_of(cast.alice.pk)] == [Broken.NO_LINK_OF_ENTRY]


def test_an_erasure_leaves_links_and_no_salt_in_the_end(
    cast: Cast, record: Treatment, settings: Any, tmp_path: Path
) -> None:
    settings.ERASURE_JOURNAL = tmp_path / "journal.jsonl"
    leaving = ask_to_leave(person=cast.alice, how=How.OWN, at=AT, now=True, by=cast.alice)

    forget_person(leaving=leaving, at=AT)

    assert _noted(cast)[-3:] == [What.LOCKED] * 3
    assert faults_of(cast.alice.pk) == []

    let_go(at=AT + dt.timedelta(days=366 * 9))

    assert _noted(cast)[-3:] == [What.ENDED] * 3
    assert (LockedEntry.objects.count(), MedicineSalt.objects.count()) == (0, 0)
    assert faults_of(cast.alice.pk) == []


def test_what_is_under_lock_is_watched_too(
    cast: Cast, record: Treatment, settings: Any, tmp_path: Path
) -> None:
    settings.ERASURE_JOURNAL = tmp_path / "journal.jsonl"
    leaving = ask_to_leave(person=cast.alice, how=How.OWN, at=AT, now=True, by=cast.alice)
    forget_person(leaving=leaving, at=AT)

    LockedEntry.objects.filter(kind="use").update(years=1)

    assert [fault.broken for fault in faults_of(cast.alice.pk)] == [Broken.ENTRY_DIFFERS]


@pytest.mark.owner
def test_records_that_are_older_are_taken_in_once(cast: Cast, reference: None) -> None:
    older = _older_purchase(cast, "x")

    call_command("begin_medicine_chains", stdout=StringIO())
    call_command("begin_medicine_chains", stdout=StringIO())

    assert _noted(cast) == [What.TAKEN_IN]
    assert Dose.objects.count() == 0

    _older_purchase(cast, "y")  # of a keeper who has a chain by now
    MedicinePurchase.objects.filter(pk=older.pk).update(quantity=2)  # behind the program's back
    call_command("begin_medicine_chains", stdout=StringIO())

    assert _noted(cast) == [What.TAKEN_IN, What.TAKEN_IN]
    assert [fault.broken for fault in faults_of(cast.alice.pk)] == [Broken.ENTRY_DIFFERS]


def _older_purchase(cast: Cast, product: str) -> MedicinePurchase:
    return MedicinePurchase.objects.create(
        keeper=cast.alice, product=product, bought_on=AT.date(), quantity=1, unit="g",
        recorded_at=timezone.now(), recorded_by=cast.alice,
    )  # fmt: skip
