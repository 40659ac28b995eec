"""Steps inside a treatment reach the keeper too: next round, what to take out, the clear date."""

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from reports.models import Digest, DigestState, Notice
from reports.planner import plan_notices
from tests.reports.treating import GIVEN
from tests.treatments.making import treat as treat_later
from treatments.actions import NewDose, cancel_treatment, give_round, take_out
from treatments.models import Treatment

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("reference")]
DAY = dt.timedelta(days=1)


def treat(*args, **more):
    """A treatment that was written down on the day it was given."""
    treatment = treat_later(*args, **more)
    Treatment.objects.filter(pk=treatment.pk).update(recorded_at=_noon(GIVEN))
    treatment.refresh_from_db()
    return treatment


def _noon(day):
    return dt.datetime.combine(day, dt.time(12), tzinfo=dt.UTC)


def _run(first, days):
    """Plan at noon of so many days; what was planned, as kind and day."""
    for number in range(days):
        plan_notices(at=_noon(first + number * DAY))
        Digest.objects.filter(state=DigestState.PENDING).update(state=DigestState.EMPTY)
    return list(Notice.objects.order_by("on", "pk").values_list("kind", "on"))


def test_strips_are_announced_due_late_and_then_silent(cast):
    treat([cast.colony], GIVEN, way="amitraz_strip_us")  # 42 days
    out_on = GIVEN + 42 * DAY

    assert _run(out_on - 10 * DAY, 40) == [
        ("out_soon", out_on - 3 * DAY),
        ("out_due", out_on),
        ("out_late", out_on + DAY),
    ]


def test_strips_taken_out_are_not_spoken_of(cast):
    treatment = treat([cast.colony], GIVEN, way="amitraz_strip_us")
    out_on = GIVEN + 40 * DAY
    take_out(round_=treatment.rounds.get(), out_on=out_on, at=_noon(out_on), by=cast.alice)

    assert [kind for kind, _ in _run(out_on, 10) if kind.startswith("out")] == []


def test_next_round_is_announced_due_late_and_then_silent(cast):
    planned = GIVEN + 7 * DAY
    treat([cast.colony], GIVEN, planned=[planned])

    told = [one for one in _run(GIVEN + DAY, 30) if one[0].startswith("round")]
    assert told == [
        ("round_soon", planned - DAY),
        ("round_due", planned),
        ("round_late", planned + 2 * DAY),
    ]


def test_a_round_that_nobody_gave_yet_is_about_the_colonies_of_the_yard(cast):
    planned = GIVEN + 7 * DAY
    treat([cast.colony], planned=[planned])
    plan_notices(at=_noon(planned))

    assert Notice.objects.get().kind == "round_due"


def test_round_given_early_is_not_spoken_of(cast):
    treatment = treat([cast.colony], GIVEN, planned=[GIVEN + 7 * DAY])
    given = GIVEN + 5 * DAY
    round_ = treatment.rounds.get(number=2)
    doses = [NewDose(cast.colony, dose.amount) for dose in treatment.rounds.get(number=1).doses.all()]
    give_round(round_=round_, given_on=given, doses=doses, at=_noon(given), by=cast.alice)

    assert [kind for kind, _ in _run(given, 6) if kind.startswith("round")] == []


def test_clear_date_is_told_once(cast):
    treatment = treat([cast.colony], GIVEN)
    treatment.withdrawal_days = 10
    treatment.save(update_fields=["withdrawal_days"])

    told = [one for one in _run(GIVEN + DAY, 30) if one[0].startswith("clear")]
    assert told == [("clear_due", GIVEN + 10 * DAY)]


@pytest.mark.parametrize("days", [None, 0])
def test_without_a_withdrawal_period_no_clear_date_is_told(cast, days):
    treatment = treat([cast.colony], GIVEN)
    treatment.withdrawal_days = days
    treatment.save(update_fields=["withdrawal_days"])

    assert [kind for kind, _ in _run(GIVEN, 30) if kind.startswith("clear")] == []


def test_cancelled_treatment_has_no_steps(cast):
    treatment = treat([cast.colony], GIVEN, planned=[GIVEN + 7 * DAY])
    cancel_treatment(treatment=treatment, why="rain", at=_noon(GIVEN + DAY), by=cast.alice)

    assert _run(GIVEN + 5 * DAY, 20) == []


def test_planning_asks_no_more_for_many_steps_than_for_few(cast, django_assert_num_queries):
    planned = GIVEN + 7 * DAY
    treat([cast.colony], GIVEN, planned=[planned])
    treat([cast.colonies[1]], GIVEN, way="amitraz_strip_us")
    at = _noon(planned)
    plan_notices(at=at)
    with CaptureQueriesContext(connection) as few:
        plan_notices(at=at)
    for colony in cast.colonies[2:]:
        treat([colony], GIVEN, planned=[planned])
    plan_notices(at=at)
    with django_assert_num_queries(len(few)):
        plan_notices(at=at)
