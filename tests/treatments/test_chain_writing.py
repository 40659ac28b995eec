"""Who writes a chain at once with whom, how many questions it costs, and that no change of a stored field is missed."""

import datetime as dt
import threading
import uuid
from decimal import Decimal
from typing import Any

import pytest
from django.db import DatabaseError, connection, models, transaction
from django.test.utils import CaptureQueriesContext
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from tests.cast import Cast
from tests.faults.machinery import wait_until
from tests.treatments.making import treat
from treatments.chain_actions import note
from treatments.chain_check import all_faults, faults_of
from treatments.chain_texts import COLUMNS, LEFT_OUT, kept_standing
from treatments.medicine_actions import NewPurchase, record_purchase
from treatments.models import (
    Dose,
    LockedEntry,
    MedicineDisposal,
    MedicineLink,
    MedicinePurchase,
    MedicineSalt,
    Round,
    Treatment,
)

AT = dt.datetime(2026, 12, 1, 12, tzinfo=dt.UTC)
BOUGHT = NewPurchase(product="Acid", bought_on=dt.date(2026, 7, 1), quantity=Decimal(100), unit="g")
IN_THE_TEXT = (Treatment, Round, Dose, MedicinePurchase, MedicineDisposal, LockedEntry)


def _buy(cast: Cast) -> None:
    bought = NewPurchase(**{**vars(BOUGHT), "entry_key": uuid.uuid4()})
    record_purchase(keeper=cast.alice, new=bought, at=AT, by=cast.alice)


def _waiting() -> int:
    """Who waits for an advisory lock in this database."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT count(*) FROM pg_locks JOIN pg_database ON pg_database.oid = database"
            " WHERE locktype = 'advisory' AND NOT granted AND datname = current_database()"
        )
        return int(cursor.fetchone()[0])


@pytest.mark.django_db(transaction=True)
@pytest.mark.owner
def test_two_writers_at_once_make_one_line(cast: Cast) -> None:
    first, second, third = _without_links(cast, 3)
    failed: list[Exception] = []

    def other() -> None:
        try:
            note(cast.alice.pk, kept_standing(models.Q(pk=second)))
        except Exception as error:  # noqa: BLE001  (told to the test)
            failed.append(error)
        finally:
            connection.close()

    beside = threading.Thread(target=other)
    with transaction.atomic():
        note(cast.alice.pk, kept_standing(models.Q(pk=first)))
        beside.start()
        wait_until(lambda: _waiting() or not beside.is_alive(), 60)
        assert _waiting() == 1, "the second went on beside the first"
        note(cast.alice.pk, kept_standing(models.Q(pk=third)))
    beside.join(60)

    assert failed == []
    assert list(MedicineLink.objects.values_list("number", flat=True)) == [1, 2, 3]
    assert faults_of(cast.alice.pk) == []


def _without_links(cast: Cast, number: int) -> list[int]:
    """The keys of so many purchases that no link tells of yet."""
    rows = MedicinePurchase.objects.bulk_create(
        MedicinePurchase(
            keeper=cast.alice, product="x", bought_on=AT.date(), quantity=1, unit="g", recorded_at=AT,
            recorded_by=cast.alice,
        )
        for _ in range(number)
    )  # fmt: skip
    return [row.pk for row in rows]


def test_noting_many_entries_asks_as_often_as_noting_two(cast: Cast) -> None:
    def asked(number: int) -> int:
        _without_links(cast, number)
        with CaptureQueriesContext(connection) as queries:
            assert note(cast.alice.pk, kept_standing(models.Q(keeper=cast.alice))) == number
        return len(queries)

    assert asked(2) == asked(20)
    assert faults_of(cast.alice.pk) == []


@pytest.mark.parametrize("model", IN_THE_TEXT)
def test_every_column_is_in_the_text_or_left_out_for_a_reason(model: type[models.Model]) -> None:
    there = {field.attname for field in model._meta.concrete_fields}
    told = set(COLUMNS[str(model._meta.model_name)])

    assert told <= there
    assert there - told <= set(LEFT_OUT), "decide whether a new column belongs into the text"
    assert not told & set(LEFT_OUT)


FIELDS = [
    (model, name)
    for model in (Treatment, Round, Dose, MedicinePurchase)
    for name in COLUMNS[str(model._meta.model_name)]
    if not isinstance(model._meta.get_field(name), models.ForeignKey) and name != "in_hive"
]
FIELDS += [
    (MedicineLink, field.attname) for field in MedicineLink._meta.concrete_fields if field.name != "id"
]
FIELDS += [(MedicineSalt, "salt")]
MOMENTS = st.datetimes(dt.datetime(2020, 1, 1), dt.datetime(2030, 1, 1), timezones=st.just(dt.UTC))  # noqa: DTZ001


def _values(model: type[models.Model], name: str, cast: Cast) -> st.SearchStrategy[Any]:
    """What the column could hold."""
    field = model._meta.get_field(name)
    if isinstance(field, models.ForeignKey):
        return st.sampled_from([cast.bob.pk, cast.charlie.pk])
    if isinstance(field, models.CharField):
        text = st.text("0123456789abcdef", min_size=64, max_size=64) if field.max_length == 64 else st.text(
            st.characters(codec="utf-8", exclude_characters="\0"), max_size=field.max_length
        )  # fmt: skip
        given = [value for value, _ in field.choices or []]
        return text | st.sampled_from(given) if given else text
    of_kind: dict[type[models.Field[Any, Any]], st.SearchStrategy[Any]] = {
        models.UUIDField: st.uuids(),
        models.DateTimeField: MOMENTS,
        models.DateField: st.dates(dt.date(2020, 1, 1), dt.date(2030, 1, 1)),
        models.DecimalField: st.decimals(Decimal("0.001"), Decimal(9999), places=3),
        models.IntegerField: st.integers(0, 3000),
    }
    kind = next(kind for kind in of_kind if isinstance(field, kind))
    return of_kind[kind] | st.none() if field.null else of_kind[kind]


@pytest.fixture
def record(cast: Cast, reference: None) -> Cast:
    """A treatment and two purchases; the triggers that refuse changes are off, as for somebody who owns the server."""
    treat(cast.colonies[:2])
    _buy(cast)
    _buy(cast)
    with connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        cursor.execute("ALTER TABLE treatments_medicinelink DISABLE TRIGGER USER")
    return cast


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
@pytest.mark.owner
def test_whatever_stored_field_is_changed_is_found(record: Cast, data: st.DataObject) -> None:
    model, name = data.draw(st.sampled_from(FIELDS))
    rows = list(model._default_manager.order_by("pk").values_list("pk", name))
    pk, was = data.draw(st.sampled_from(rows))
    becomes = data.draw(_values(model, name, record))
    assume(becomes != was)
    try:
        with transaction.atomic():
            model._default_manager.filter(pk=pk).update(**{name: becomes})
            assert list(all_faults()), f"{model.__name__}.{name}: {was!r} became {becomes!r}"
            transaction.set_rollback(True)
    except DatabaseError:
        return  # the database refused it, whoever asks


@pytest.mark.owner
def test_the_record_that_is_changed_there_is_whole_before(record: Cast) -> None:
    assert list(all_faults()) == []
