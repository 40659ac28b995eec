"""The end of the day: ticks become doses, the record is asked for, the recount is due."""

import datetime as dt
import uuid
from decimal import Decimal

import pytest
from django.urls import reverse

from tests.flows.forms import send
from tests.treatments.making import treat
from treatments.actions import NewDose, NotPossible
from treatments.day_actions import NewHive, NewSheet, finish_round, mark_hive, set_sheet, undo_mark
from treatments.medicine_actions import RecordFields
from treatments.models import DaySheet, Dose, Step, Treatment

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("reference")]
AT = dt.datetime(2026, 8, 12, 12, tzinfo=dt.UTC)
ON = dt.date(2026, 8, 12)


@pytest.fixture(autouse=True)
def _in_august(cast, reference, time_machine):
    time_machine.move_to(AT, tick=False)


@pytest.fixture
def alice(cast, client_for):
    return client_for(cast.alice)


@pytest.fixture
def sheet(cast):
    """Three hives of Alice's, 1 g each, planned for today; a second round five days later."""
    treatment = treat(cast.colonies[:3], planned=[ON, ON + dt.timedelta(days=5)])
    new = NewSheet(
        starts_at=dt.time(9),
        hives=tuple(NewHive(colony=one, amount=Decimal(1)) for one in cast.colonies[:3]),
        wait_minutes=Decimal(5),
        sealed_minutes=Decimal(15),
    )
    return set_sheet(round_=treatment.rounds.get(number=1), sheet=new, at=AT, by=cast.alice)


def tick(hive, by, step, minute, **more):
    at = dt.datetime(2026, 8, 12, 7, minute, tzinfo=dt.UTC)  # 9 o'clock in the yard
    return mark_hive(hive=hive, step=step, ticked_at=at, entry_key=uuid.uuid4(), at=at, by=by, **more)


def url_of(sheet):
    return reverse("treatments:round-finish", args=[sheet.round.treatment_id, sheet.round.number])


def test_without_ticks_every_hive_is_taken_as_treated(alice, cast, sheet):
    response = send(alice, url_of(sheet), {"withdrawal_days": "0", "batch": "B 7"})

    assert response.status_code == 302
    treatment = Treatment.objects.get()
    assert [(one.colony.name, one.amount) for one in Dose.objects.order_by("pk")] == [
        (str(n), Decimal(1)) for n in (1, 2, 3)
    ]
    assert (treatment.withdrawal_days, treatment.batch) == (0, "B 7")
    assert treatment.recount.ideal_on == ON + dt.timedelta(days=5 + 14)  # after the round still planned


def test_ticks_of_the_yard_fill_the_form(alice, cast, sheet):
    one, two, three = sheet.hives.all()
    tick(one, cast.alice, Step.STARTED, 2)
    tick(one, cast.alice, Step.OPENED, 31)
    tick(two, cast.alice, Step.LEFT_OUT, 5, remark="cross bees")
    undo_mark(mark=tick(three, cast.alice, Step.STARTED, 7), at=AT, by=cast.alice)
    page = alice.get(url_of(sheet)).content.decode()

    assert "started 09:02; opened 09:31" in page
    assert "left out 09:05 (cross bees)" in page
    assert send(alice, url_of(sheet), {}).status_code == 302
    assert [one.colony.name for one in Dose.objects.all()] == ["1"]
    kept = DaySheet.objects.get()
    assert kept.began_at == dt.datetime(2026, 8, 12, 7, 2, tzinfo=dt.UTC)
    assert kept.ended_at == dt.datetime(2026, 8, 12, 7, 31, tzinfo=dt.UTC)


def test_missing_withdrawal_stays_missing_and_zero_is_said(alice, cast, sheet):
    send(alice, url_of(sheet), {})
    treatment = Treatment.objects.get()
    assert treatment.withdrawal_days is None

    page = alice.get(reverse("treatments:treatment-detail", args=[treatment.pk])).content.decode()
    assert "withdrawal period missing" in page or "missing" in page


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"began": "10:00", "ended": "9:00"}, "It cannot have ended before it began."),
        ({"began": "noon"}, "such as 9:30"),
        ({"given_on": "13 Aug 2026"}, "still to come"),
        ({"withdrawal_days": "some"}, "whole number"),
        ({"amount": ""}, "Enter what it got, more than 0"),
        ({"amount": "0"}, "more than 0"),
        ({"amount": "1,5"}, "Colony 1: 1.5 g is more than the published 1 g."),
    ],
)
def test_odd_entry_is_told_and_changes_nothing(alice, cast, sheet, typed, words):
    first = sheet.hives.first()
    typed = {f"amount_{first.pk}" if name == "amount" else name: value for name, value in typed.items()}

    response = send(alice, url_of(sheet), typed)

    assert response.status_code == 200
    assert words in response.content.decode()
    assert not Dose.objects.exists()
    assert DaySheet.objects.get().began_at is None


def test_no_hive_ticked_is_told(alice, cast, sheet):
    response = alice.post(url_of(sheet), {"given_on": "12 Aug 2026"})
    assert "Tick at least one hive that was treated" in response.content.decode()


def test_dose_above_the_limit_is_kept_with_the_reason_and_marked(alice, cast, sheet):
    first = sheet.hives.first()
    send(alice, url_of(sheet), {f"amount_{first.pk}": "2", "why_above": "this pack's label allows 4 g"})

    assert [one.why_above for one in Dose.objects.order_by("pk")] == ["this pack's label allows 4 g", "", ""]
    page = alice.get(
        reverse("treatments:treatment-detail", args=[Treatment.objects.get().pk])
    ).content.decode()
    assert "above the published limit: this pack" in page


def test_round_with_a_sheet_is_finished_on_it(alice, cast, sheet):
    give = reverse("treatments:round-give", args=[sheet.round.treatment_id, 1])
    assert alice.get(give).url == url_of(sheet)


def test_finished_day_is_closed(alice, cast, sheet):
    send(alice, url_of(sheet), {})
    assert alice.get(url_of(sheet)).status_code == 404
    page = alice.get(reverse("treatments:round-sheet", args=[sheet.round.treatment_id, 1])).content.decode()
    assert "Given on 12 Aug 2026" in page and "Finish and set recount" not in page


def test_all_or_nothing(cast, sheet):
    with pytest.raises(NotPossible):
        finish_round(
            round_=sheet.round,
            given_on=ON,
            doses=[NewDose(cast.colonies[0], Decimal(1))],
            told=RecordFields(),
            began_at=AT,
            ended_at=AT - dt.timedelta(minutes=1),
            at=AT,
            by=cast.alice,
        )
    assert not Dose.objects.exists()


def test_round_without_a_sheet_asks_why_above_the_limit(alice, cast):
    treatment = treat(cast.colonies[:1], planned=[ON])
    url = reverse("treatments:round-give", args=[treatment.pk, 1])

    asked = send(alice, url, {"dose_1": "2"})
    assert "2 g is more than the published 1 g" in asked.content.decode()
    assert not Dose.objects.exists()

    assert send(alice, url, {"dose_1": "2", "why_above": "the label allows it"}).status_code == 302
    assert set(Dose.objects.values_list("why_above", flat=True)) == {"the label allows it"}
