"""Devices, sheets and ticks are kept whole, once, and never lost."""

import datetime as dt
import threading
import uuid
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connections

from tests.treatments.making import treat
from treatments.actions import (
    AlreadyClosed,
    EntryKeyReused,
    NewDose,
    NewRound,
    NewTreatment,
    cancel_treatment,
    give_round,
)
from treatments.day_actions import (
    NewHive,
    NewSheet,
    NoHives,
    SheetInUse,
    keep_device,
    mark_hive,
    plan_day,
    put_away_device,
    set_sheet,
    undo_mark,
)
from treatments.models import Application, DaySheet, Device, SheetMark, Step, Treatment

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("reference")]
AT = dt.datetime(2026, 8, 12, 9, tzinfo=dt.UTC)
ON = dt.date(2026, 8, 12)


def sheet(colonies, **more):
    facts = {
        "starts_at": dt.time(9, 30),
        "hives": tuple(NewHive(colony=one, amount=Decimal(2), loads=1) for one in colonies),
        "wait_minutes": Decimal(5),
        "sealed_minutes": Decimal(15),
    }
    return NewSheet(**(facts | more))


@pytest.fixture
def planned(cast):
    """Alice's round of oxalic vapour, planned for today, and its sheet of three hives."""
    treatment = treat(cast.colonies[:3], planned=[ON])
    return set_sheet(round_=treatment.rounds.get(), sheet=sheet(cast.colonies[:3]), at=AT, by=cast.alice)


def tick(hive, by, step=Step.STARTED, **more):
    return mark_hive(
        hive=hive, step=step, ticked_at=AT, entry_key=more.pop("key", uuid.uuid4()), at=AT, by=by, **more
    )


def test_planning_a_day_keeps_treatment_sheet_and_recount_together(cast):
    way = Application.objects.get(key="oxalic_vapour_us")
    new = NewTreatment(
        yard=cast.alice_yard, application=way, rounds=(NewRound(ON), NewRound(ON + dt.timedelta(days=5)))
    )

    treatment = plan_day(new=new, sheet=sheet(cast.colonies), at=AT, by=cast.alice)
    again = plan_day(new=new, sheet=sheet(cast.colonies), at=AT, by=cast.alice)

    assert treatment == again
    assert Treatment.objects.count() == DaySheet.objects.count() == 1
    kept = treatment.rounds.get(number=1).sheet
    assert [(one.position, one.colony.name, one.unit) for one in kept.hives.all()] == [
        (place, str(place), "g") for place in range(1, 7)
    ]
    assert treatment.recount.ideal_on == ON + dt.timedelta(days=5 + 14)


def test_planning_without_hives_keeps_nothing(cast):
    way = Application.objects.get(key="oxalic_vapour_us")
    new = NewTreatment(yard=cast.alice_yard, application=way, rounds=(NewRound(ON),))

    with pytest.raises(NoHives):
        plan_day(new=new, sheet=sheet([]), at=AT, by=cast.alice)
    assert not Treatment.objects.exists()


def test_sheet_is_planned_anew_until_something_is_ticked(cast, planned):
    set_sheet(round_=planned.round, sheet=sheet(cast.colonies[:1], people=2), at=AT, by=cast.alice)
    planned.refresh_from_db()
    assert (planned.people, planned.hives.count()) == (2, 1)

    tick(planned.hives.get(), cast.alice)
    with pytest.raises(SheetInUse):
        set_sheet(round_=planned.round, sheet=sheet(cast.colonies), at=AT, by=cast.alice)


def test_tick_sent_twice_and_ticked_twice_counts_once(cast, planned):
    hive, key = planned.hives.first(), uuid.uuid4()
    first = tick(hive, cast.alice, key=key)

    assert tick(hive, cast.alice, key=key) == first
    assert tick(hive, cast.bob) == first  # the helper ticked the same hive
    assert SheetMark.objects.count() == 1


def test_key_of_another_tick_is_refused(cast, planned):
    one, two, _ = planned.hives.all()
    key = uuid.uuid4()
    tick(one, cast.alice, key=key)

    with pytest.raises(EntryKeyReused):
        tick(two, cast.alice, key=key)
    with pytest.raises(EntryKeyReused):
        tick(one, cast.bob, key=key)


def test_undone_tick_stays_and_can_be_made_anew(cast, planned):
    hive = planned.hives.first()
    first = undo_mark(mark=tick(hive, cast.alice), at=AT, by=cast.alice)
    second = tick(hive, cast.alice)

    assert first.undone_by == cast.alice and second.pk != first.pk
    assert undo_mark(mark=first, at=AT + dt.timedelta(hours=1), by=cast.bob).undone_by == cast.alice
    assert SheetMark.objects.count() == 2


@pytest.mark.parametrize("closed", ["given", "cancelled"])
def test_nothing_is_ticked_or_planned_once_it_is_over(cast, planned, closed):
    mark = tick(planned.hives.first(), cast.alice)
    if closed == "given":
        doses = [NewDose(cast.colonies[0], Decimal(2))]
        give_round(round_=planned.round, given_on=ON, doses=doses, at=AT, by=cast.alice)
    else:
        cancel_treatment(treatment=planned.round.treatment, why="rain", at=AT, by=cast.alice)

    with pytest.raises(AlreadyClosed):
        tick(planned.hives.last(), cast.alice)
    with pytest.raises(AlreadyClosed):
        undo_mark(mark=mark, at=AT, by=cast.alice)
    with pytest.raises(AlreadyClosed):
        set_sheet(round_=planned.round, sheet=sheet(cast.colonies), at=AT, by=cast.alice)
    assert SheetMark.objects.filter(undone_at=None).count() == 1


def device(cast, **facts):
    return keep_device(device=None, keeper=cast.alice, facts={"name": "Pan"} | facts, at=AT, by=cast.alice)


def test_device_without_a_trial_has_no_times(cast):
    assert not device(cast, watts=Decimal(150)).is_timed


TRIAL = {
    "tried_on": ON,
    "first_minutes": Decimal("10.5"),
    "following_minutes": Decimal(7),
    "cool_minutes": Decimal(2),
}


def test_device_is_noted_anew_and_put_away_but_never_lost(cast):
    first = device(cast, **TRIAL)
    again = keep_device(device=first, keeper=cast.alice, facts={"number": 3}, at=AT, by=cast.alice)
    put_away_device(device=first, at=AT, by=cast.alice)

    assert (again.pk, again.number, again.is_timed) == (first.pk, 3, True)
    assert list(Device.objects.of(cast.alice)) == [] and Device.objects.count() == 1
    with pytest.raises(AlreadyClosed):
        put_away_device(device=first, at=AT, by=cast.alice)


@pytest.mark.parametrize(
    "facts",
    [
        {"name": ""},
        {"number": 0},
        {"watts": Decimal(0)},
        {"usable_share": Decimal("1.2")},
        {"peukert": Decimal("0.5")},
        {"tried_on": ON, "first_minutes": Decimal(10)},
        TRIAL | {"tried_on": None},
        TRIAL | {"first_minutes": Decimal(0)},
    ],
)
def test_fact_that_cannot_be_is_refused(cast, facts):
    with pytest.raises(ValidationError):
        device(cast, **facts)
    assert not Device.objects.exists()


def test_database_itself_refuses_half_a_trial(cast):
    kept = device(cast, **TRIAL)
    with pytest.raises(IntegrityError):
        Device.objects.filter(pk=kept.pk).update(cool_minutes=None)


@pytest.mark.django_db(transaction=True)
@pytest.mark.owner
def test_two_phones_ticking_at_once_make_one_tick(cast, planned):
    hive, found, ready = planned.hives.first(), [], threading.Barrier(2)

    def ticks(person):
        ready.wait()
        try:
            found.append(tick(hive, person).pk)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=ticks, args=(one,)) for one in (cast.alice, cast.bob)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert len(found) == 2 and len(set(found)) == 1
    assert SheetMark.objects.count() == 1
