"""What PostgreSQL itself refuses, whatever code wrote it."""

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.db.backends.postgresql.psycopg_any import DateRange

from tests.cast import Cast
from tests.treatments.making import GIVEN, LATER, treat
from treatments.models import Application, Dose, Round, Treatment
from treatments.status import TreatmentStatus

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("reference")]
DAY = dt.timedelta(days=1)


def refused(constraint: str, row: Any, **change: Any) -> None:
    """Saving the changed row is refused by that very constraint."""
    for name, value in change.items():
        setattr(row, name, value)
    with pytest.raises(IntegrityError, match=constraint), transaction.atomic():
        row.save()


@pytest.fixture
def treatment(cast: Cast) -> Treatment:
    """Vapour given to colony 1."""
    return treat([cast.colony])


def test_recount_days_of_a_way_are_in_order(cast: Cast) -> None:
    way = Application.objects.get(key="oxalic_vapour_us")
    refused("application_recount_in_order", way, recount_earliest_days=20)
    way.refresh_from_db()
    refused("application_recount_in_order", way, recount_latest_days=10)


@pytest.mark.parametrize("change", [{"cancelled_at": LATER}, {"cancelled_why": "rain"}])
def test_cancelling_is_whole(treatment: Treatment, change: dict[str, Any]) -> None:
    refused("treatment_cancelled_whole", treatment, **change)


def test_cancelling_has_a_reason(treatment: Treatment, cast: Cast) -> None:
    refused("treatment_cancelled_whole", treatment, cancelled_at=LATER, cancelled_by=cast.alice)


def test_entry_key_is_unique(treatment: Treatment) -> None:
    refused("entry_key", treatment, pk=None, _state=Treatment()._state)


def test_round_number_is_there_once(treatment: Treatment) -> None:
    refused("round_number_once", Round(treatment=treatment, number=1, planned_on=GIVEN))


@pytest.mark.parametrize("change", [{"out_on": GIVEN - DAY}, {"given_on": None, "out_on": GIVEN}])
def test_nothing_comes_out_before_it_went_in(treatment: Treatment, change: dict[str, Any]) -> None:
    refused("round_out_after_in", treatment.rounds.get(), **change)


@pytest.mark.parametrize("change", [{"out_by": GIVEN - DAY}, {"given_on": None, "out_by": GIVEN}])
def test_nothing_is_to_come_out_before_it_went_in(treatment: Treatment, change: dict[str, Any]) -> None:
    refused("round_out_by_after_in", treatment.rounds.get(), **change)


@pytest.mark.parametrize(
    ("constraint", "change"),
    [
        ("dose_some", {"amount": Decimal(0)}),
        ("dose_ingredient_known", {"ingredient": "garlic"}),
        ("dose_voided_whole", {"voided_at": LATER}),
        ("dose_voided_whole", {"voided_why": "rain"}),
    ],
)
@pytest.mark.owner
def test_doses_are_whole(treatment: Treatment, constraint: str, change: dict[str, Any]) -> None:
    refused(constraint, Dose.objects.get(), **change)


def copy_of(dose: Dose, **change: Any) -> Dose:
    """The same dose once more, not saved yet."""
    fields = {
        "round": dose.round,
        "colony": dose.colony,
        "amount": 1,
        "unit": "g",
        "ingredient": dose.ingredient,
    }
    return Dose(**fields | {"in_hive": dose.in_hive} | change)


def test_colony_gets_one_dose_a_round(treatment: Treatment) -> None:
    later = DateRange(GIVEN + 5 * DAY, GIVEN + 6 * DAY)
    refused("dose_once_a_round", copy_of(Dose.objects.get(), in_hive=later))


def test_ingredient_is_not_twice_in_a_hive_at_once(treatment: Treatment) -> None:
    other = Round.objects.create(treatment=treatment, number=2, planned_on=GIVEN)
    refused("dose_not_twice_at_once", copy_of(Dose.objects.get(), round=other))
    copy_of(Dose.objects.get(), round=other, ingredient="thymol").save()
    assert Dose.objects.count() == 2


@pytest.mark.parametrize(
    ("constraint", "change"),
    [
        ("recount_dates_in_order", {"earliest_on": dt.date(2027, 1, 1)}),
        ("recount_dates_in_order", {"latest_on": dt.date(2026, 1, 1)}),
        ("recount_skipped_whole", {"skipped_at": LATER}),
        ("recount_skipped_whole", {"skipped_why": "sold"}),
    ],
)
def test_recounts_are_whole(treatment: Treatment, constraint: str, change: dict[str, Any]) -> None:
    refused(constraint, treatment.recount, **change)


def test_one_recount_a_treatment(treatment: Treatment, cast: Cast) -> None:
    other = treat([cast.colonies[1]]).recount
    refused("treatment_id", other, treatment=treatment)


def test_clear_date_needs_the_labels_days(treatment: Treatment) -> None:
    assert treatment.clear_on() is None
    treatment.withdrawal_days = 0
    assert treatment.clear_on() == GIVEN


def test_what_the_label_times_is_in_progress_until_it_is_out(cast: Cast) -> None:
    treatment = treat([cast.colony], way="formic_other_any")
    assert treatment.status(dt.date(2026, 12, 1)) is TreatmentStatus.IN_PROGRESS
    assert not Application.objects.get(key="drone_brood_removal_any").stays
