"""What the role of the application may do once `grant_roles` ran: enough for the service, and no more."""

import datetime as dt
from decimal import Decimal
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection, transaction

from apiaries.actions import ask_to_leave, forget_person
from apiaries.models import How
from apiaries.second_lock import as_person
from config.grants import rights
from counts.models import MiteSample
from tests.cast import Cast
from tests.plain_role import held, is_superuser
from tests.treatments.making import jar, treat
from treatments.actions import cancel_treatment
from treatments.medicine_actions import NewPurchase, record_purchase, void_purchase
from treatments.models import LockedEntry

AT = dt.datetime(2026, 12, 1, 12, tzinfo=dt.UTC)
BOUGHT = NewPurchase(
    product="Acid", bought_on=dt.date(2026, 7, 1), quantity=Decimal(100), unit="g", batch="A 7"
)

REFUSED = [
    "TRUNCATE counts_mitesample",
    "DELETE FROM counts_mitesample",
    "DELETE FROM treatments_treatment",
    "DELETE FROM treatments_medicinepurchase",
    "UPDATE treatments_medicinepurchase SET quantity = 1",
    "UPDATE treatments_medicinedisposal SET keeper_id = 1",
    "UPDATE treatments_dose SET amount = 1",
    "UPDATE treatments_medicinelink SET what = 'voided'",
    "DELETE FROM django_migrations",
    "DROP TABLE counts_mitesample",
    "ALTER TABLE counts_mitesample DISABLE ROW LEVEL SECURITY",
    "ALTER TABLE treatments_medicinelink DISABLE TRIGGER USER",
    "CREATE TABLE of_mine (n int)",
    "SET session_replication_role = replica",
]


@pytest.fixture
def granted(role: str) -> str:
    said = StringIO()
    call_command("grant_roles", role, stdout=said)
    assert role in said.getvalue()
    return role


@pytest.mark.parametrize("statement", REFUSED)
@pytest.mark.owner
def test_the_role_may_not(granted: str, statement: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        with pytest.raises(DatabaseError, match=r"permission denied|must be owner"), transaction.atomic():
            cursor.execute(f"SET LOCAL ROLE {granted}")
            cursor.execute(statement)


@pytest.mark.owner
def test_the_role_may_what_the_service_does(
    cast: Cast, granted: str, reference: None, settings: Any, tmp_path: Path
) -> None:
    """Counting, treating, voiding, and forgetting somebody: the last empties what stays."""
    settings.ERASURE_JOURNAL = tmp_path / "journal.jsonl"
    with held(granted):
        with as_person(cast.alice.pk):
            jar(cast.colony, AT.date(), 3)
            treatment = treat(cast.colonies[:2])
            bought = record_purchase(keeper=cast.alice, new=BOUGHT, at=AT, by=cast.alice)
            void_purchase(purchase=bought, why="another's", at=AT, by=cast.alice)
            cancel_treatment(treatment=treatment, why="rain", at=AT, by=cast.alice)
            leaving = ask_to_leave(person=cast.alice, how=How.OWN, at=AT, now=True, by=cast.alice)
        forget_person(leaving=leaving, at=AT)

    bought.refresh_from_db()
    assert bought.batch == "" and bought.quantity == 100
    assert MiteSample.objects.get().mites == 3
    assert LockedEntry.objects.count() >= 1


@pytest.mark.owner
def test_again_takes_back_what_is_no_longer_given(granted: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(f"GRANT ALL ON treatments_medicinelink, django_migrations TO {granted}")
        cursor.execute(f"GRANT UPDATE (quantity) ON treatments_medicinepurchase TO {granted}")
        call_command("grant_roles", granted, stdout=StringIO())
        cursor.execute(
            "SELECT has_table_privilege(%s, 'treatments_medicinelink', 'UPDATE, DELETE, TRUNCATE'),"
            " has_table_privilege(%s, 'django_migrations', 'INSERT'),"
            " has_column_privilege(%s, 'treatments_medicinepurchase', 'quantity', 'UPDATE')",
            [granted] * 3,
        )
        assert cursor.fetchone() == (False, False, False)


@pytest.mark.owner
def test_it_refuses_a_role_that_no_lock_holds(db: None) -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT current_user")
        (own,) = cursor.fetchone()
    match = "held by no lock" if is_superuser() else "owns the tables"
    with pytest.raises(CommandError, match=match):
        call_command("grant_roles", own)
    with pytest.raises(CommandError, match="There is no role"):
        call_command("grant_roles", "nobody_of_that_name")


def test_what_apps_name_is_there(db: None) -> None:
    append_only, kept, columns = rights()
    there = {
        model._meta.db_table: {field.column for field in model._meta.local_concrete_fields}
        for model in apps.get_models()
    }
    assert append_only | kept | set(columns) <= set(there)
    for table, names in columns.items():
        assert set(names) <= there[table], table
