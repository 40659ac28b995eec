"""Counts added by hand-written statements: what was there before, what came twice, and what is known of the basis."""

import uuid
from dataclasses import replace
from typing import Any

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from apiaries.actions import add_yard, move_colony
from apiaries.models import Yard
from counts import adding
from counts.actions import EntryKeyReused, NotPossible, correct_sample, record_sample, record_samples
from counts.adding import add, basis_for
from counts.constants import DEFAULTS
from counts.models import EstimateBasis, MiteSample
from reports.few_months import put_month
from reports.models import RegionMonthMark, YardMonth
from tests.cast import Cast
from tests.counts.counting import AT, DAY, kept, wash


def test_those_here_and_those_new_come_back_in_the_order_sent(cast: Cast) -> None:
    here = wash(cast.colonies[1], 4)
    first = record_sample(count=here, at=AT, by=cast.alice)

    told = record_samples(
        counts=[wash(cast.colonies[0], 3), here, wash(cast.colonies[2], 5)], at=AT, by=cast.alice
    )

    assert [one.mites for one in told] == [3, 4, 5] and told[1].pk == first.pk
    assert all(one.pk and not one._state.adding for one in told)
    assert MiteSample.objects.count() == 3


def test_every_column_is_kept_as_it_was_set(cast: Cast) -> None:
    sample = kept(cast.colony, cast.alice, note=" by hand ")

    stored = MiteSample.objects.get(pk=sample.pk)

    for field in MiteSample._meta.concrete_fields:
        assert getattr(stored, field.attname) == getattr(sample, field.attname), field
    assert stored.note == "by hand"


def test_one_key_twice_in_what_is_sent_keeps_nothing(cast: Cast) -> None:
    key = uuid.uuid4()
    twice = [wash(colony, entry_key=key) for colony in cast.colonies[:2]]

    with pytest.raises(EntryKeyReused):
        record_samples(counts=[*twice, wash(cast.colonies[2])], at=AT, by=cast.alice)

    assert not MiteSample.objects.exists()


def test_key_with_other_numbers_keeps_nothing_of_what_came_with_it(cast: Cast) -> None:
    here = kept(cast.colony, cast.alice, mites=4)

    with pytest.raises(EntryKeyReused):
        record_samples(
            counts=[wash(cast.colonies[1]), wash(cast.colony, 5, entry_key=here.entry_key)],
            at=AT,
            by=cast.alice,
        )

    assert MiteSample.objects.get() == here


def test_first_of_two_refusals_is_told(cast: Cast) -> None:
    """A reused key before a count that cannot be, and the other way round."""
    here = kept(cast.colony, cast.alice, mites=4)
    reused, impossible = wash(cast.colony, 5, entry_key=here.entry_key), wash(cast.colonies[1], 901)

    with pytest.raises(EntryKeyReused):
        record_samples(counts=[reused, impossible], at=AT, by=cast.alice)
    with pytest.raises(NotPossible) as refused:
        record_samples(counts=[impossible, reused], at=AT, by=cast.alice)
    assert refused.value.row == 0


def test_count_that_is_here_is_not_asked_once_more_whether_it_can_be(cast: Cast) -> None:
    here = record_sample(count=wash(cast.colony), at=AT, by=cast.alice)
    MiteSample.objects.filter(pk=here.pk).update(mites=900)
    again = wash(cast.colony, 900, entry_key=here.entry_key)

    told = record_samples(counts=[again], at=AT, by=cast.alice)

    assert [one.pk for one in told] == [here.pk]


def test_correction_under_a_key_that_is_taken_voids_nothing(cast: Cast) -> None:
    other, wrong = kept(cast.colonies[1], cast.alice), kept(cast.colony, cast.alice)

    with pytest.raises(EntryKeyReused):
        correct_sample(
            sample=wrong,
            count=wash(cast.colony, 3, entry_key=other.entry_key),
            why="slip",
            at=AT,
            by=cast.alice,
        )

    assert MiteSample.objects.standing().count() == 2


def test_nothing_to_add_asks_nothing(cast: Cast, django_assert_num_queries: Any) -> None:
    with django_assert_num_queries(0):
        assert add([]) == []


def test_one_count_is_kept_with_few_statements(cast: Cast, reference: None) -> None:
    kept(cast.colony, cast.alice)
    with CaptureQueriesContext(connection) as asked:
        kept(cast.colonies[1], cast.alice)
    # Two of them for a savepoint, which outside of a test is the transaction, and one for the basis, which is known
    # there; moves, hold, count, sums, and what follows from them.
    assert len(asked) == 8


def test_what_follows_in_other_apps_is_written_in_one_message(cast: Cast, reference: None) -> None:
    with CaptureQueriesContext(connection) as asked:
        kept(cast.colony, cast.alice)
    last = [one["sql"] for one in asked if "RELEASE" not in one["sql"]][-1]

    assert "treatments_yardoutlook" in last and put_month.name in last
    assert cast.alice_yard.outlook.stale
    assert RegionMonthMark.objects.get().region == cast.north


def test_count_is_kept_in_the_yard_that_was_asked_about(cast: Cast, reference: None) -> None:
    """Where that was looked up; it is not looked up once more."""
    meadow = add_yard(keeper=cast.alice, region=cast.north, name="Meadow", by=cast.alice)
    told = [replace(wash(cast.colonies[0]), stood=meadow), wash(cast.colonies[1])]

    first, second = record_samples(counts=told, at=AT, by=cast.alice)

    assert (first.yard, second.yard) == (meadow, cast.alice_yard)
    assert sorted(YardMonth.objects.values_list("yard", flat=True)) == sorted([meadow.pk, cast.alice_yard.pk])


@pytest.mark.django_db(transaction=True)
def test_basis_is_asked_for_once_by_a_connection(db: Any, django_assert_num_queries: Any) -> None:
    adding.forget()
    first = basis_for(DEFAULTS)

    with django_assert_num_queries(0):
        assert basis_for(DEFAULTS) == first
    assert EstimateBasis.objects.get() == first


@pytest.mark.django_db(transaction=True)
def test_basis_that_was_taken_back_is_made_again(db: Any) -> None:
    adding.forget()
    with pytest.raises(RuntimeError), transaction.atomic():
        basis_for(DEFAULTS)
        raise RuntimeError
    assert not EstimateBasis.objects.exists()

    made = basis_for(DEFAULTS)

    assert EstimateBasis.objects.get() == made


def test_count_before_a_move_is_of_the_yard_that_was_left(cast: Cast) -> None:
    meadow = add_yard(keeper=cast.alice, region=cast.north, name="Meadow", by=cast.alice)
    move_colony(colony=cast.colony, to_yard=meadow, moved_on=DAY, by=cast.alice)
    cast.colony.refresh_from_db()

    before = kept(cast.colony, cast.alice, sampled_on=DAY.replace(day=11))
    after = kept(cast.colony, cast.alice)

    assert (before.yard, after.yard) == (cast.alice_yard, meadow)


@pytest.mark.django_db(transaction=True)
def test_yards_are_held_within_a_transaction_alone(db: Any) -> None:
    with pytest.raises(transaction.TransactionManagementError):
        Yard.objects.hold([1])
