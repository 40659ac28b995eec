"""The writers: what they keep, what they refuse, and that the recount follows."""

import datetime as dt
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from django.db.models.signals import post_save

from tests.cast import Cast
from tests.treatments.making import GIVEN, LATER, treat
from treatments.actions import (
    AlreadyClosed,
    EntryKeyReused,
    NewDose,
    NewRound,
    NewTreatment,
    NotPossible,
    TwiceAtOnce,
    cancel_treatment,
    give_round,
    record_treatment,
    skip_recount,
    take_out,
)
from treatments.models import Application, Dose, Recount, Round, Treatment
from treatments.signals import treatment_changed

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("reference")]
DAY = dt.timedelta(days=1)


def new(cast: Cast, *rounds: NewRound, way: str = "oxalic_vapour_us") -> NewTreatment:
    """A treatment not kept yet."""
    return NewTreatment(cast.alice_yard, Application.objects.get(key=way), rounds)


def given(cast: Cast, on: dt.date, out_on: dt.date | None = None) -> NewRound:
    return NewRound(on, on, out_on, (NewDose(cast.colony, Decimal(1)),))


def test_recount_is_born_with_the_treatment(cast: Cast) -> None:
    recount = treat([cast.colony]).recount
    assert (recount.earliest_on, recount.ideal_on, recount.latest_on) == (
        GIVEN + 14 * DAY,
        GIVEN + 14 * DAY,
        GIVEN + 28 * DAY,
    )
    assert recount.reason.startswith("Brood that was capped") and "Dietemann" in recount.source


def test_same_key_again_returns_the_first(cast: Cast) -> None:
    told = new(cast, given(cast, GIVEN))
    first = record_treatment(new=told, at=LATER, by=cast.alice)
    again = record_treatment(new=replace(told, note="again"), at=LATER, by=cast.alice)
    assert (again.pk, Treatment.objects.count(), Dose.objects.count()) == (first.pk, 1, 1)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda cast: [],
        lambda cast: [given(cast, GIVEN), given(cast, GIVEN)],
        lambda cast: [NewRound(GIVEN, GIVEN)],
        lambda cast: [NewRound(GIVEN, None, None, (NewDose(cast.colony, Decimal(1)),))],
        lambda cast: [given(cast, LATER.date() + 5 * DAY)],
        lambda cast: [given(cast, GIVEN, GIVEN - DAY)],
        lambda cast: [given(cast, GIVEN, LATER.date() + 5 * DAY)],
    ],
    ids=[
        "no round",
        "not in order",
        "no dose",
        "dose of a planned one",
        "future",
        "out before in",
        "out in future",
    ],
)
def test_contradictions_keep_nothing(cast: Cast, wrong: Any) -> None:
    with pytest.raises(NotPossible):
        record_treatment(new=new(cast, *wrong(cast)), at=LATER, by=cast.alice)
    assert (Treatment.objects.count(), Round.objects.count(), Recount.objects.count()) == (0, 0, 0)


def test_same_ingredient_twice_at_once_keeps_nothing(cast: Cast) -> None:
    treat([cast.colony], GIVEN, way="formic_gel_strip_us")
    with pytest.raises(TwiceAtOnce):
        record_treatment(
            new=new(cast, given(cast, GIVEN + 5 * DAY), way="formic_gel_strip_us"), at=LATER, by=cast.alice
        )
    assert Treatment.objects.count() == 1


def test_giving_a_round_moves_the_recount(cast: Cast) -> None:
    treatment = treat([cast.colony], planned=[GIVEN])
    doses = (NewDose(cast.colony, Decimal(1)),)
    round_ = give_round(
        round_=treatment.rounds.get(), given_on=GIVEN + 3 * DAY, doses=doses, at=LATER, by=cast.alice
    )
    treatment.recount.refresh_from_db()
    assert treatment.recount.ideal_on == GIVEN + 17 * DAY
    with pytest.raises(AlreadyClosed):
        give_round(round_=round_, given_on=GIVEN, doses=doses, at=LATER, by=cast.alice)


def test_taking_out_moves_the_recount_and_frees_the_hive(cast: Cast) -> None:
    treatment = treat([cast.colony], way="formic_gel_strip_us")  # 14 days, from memory
    round_ = take_out(round_=treatment.rounds.get(), out_on=GIVEN + 10 * DAY, at=LATER, by=cast.alice)
    treatment.recount.refresh_from_db()
    assert treatment.recount.ideal_on == GIVEN + 24 * DAY
    assert Dose.objects.get().in_hive.upper == GIVEN + 11 * DAY
    with pytest.raises(AlreadyClosed):
        take_out(round_=round_, out_on=GIVEN + 11 * DAY, at=LATER, by=cast.alice)


def test_taking_out_before_it_went_in_is_refused(cast: Cast) -> None:
    treatment = treat([cast.colony], way="formic_gel_strip_us")
    with pytest.raises(NotPossible):
        take_out(round_=treatment.rounds.get(), out_on=GIVEN - DAY, at=LATER, by=cast.alice)


def test_cancelling_voids_the_doses_and_keeps_the_rows(cast: Cast) -> None:
    treatment = treat([cast.colony])
    cancel_treatment(treatment=treatment, why="Rained off", at=LATER, by=cast.bob)
    dose = Dose.objects.get()
    assert (dose.voided_by, dose.voided_why) == (cast.bob, "Rained off")
    with pytest.raises(AlreadyClosed):
        cancel_treatment(treatment=treatment, why="Again", at=LATER, by=cast.bob)
    treat([cast.colony])  # the hive is free for the same ingredient on the same day


def test_skipping_names_who_and_why_once(cast: Cast) -> None:
    recount = skip_recount(recount=treat([cast.colony]).recount, why="Sold", at=LATER, by=cast.alice)
    assert (recount.skipped_by, recount.skipped_why) == (cast.alice, "Sold")
    with pytest.raises(AlreadyClosed):
        skip_recount(recount=recount, why="Again", at=LATER, by=cast.alice)


def test_every_change_is_told(cast: Cast) -> None:
    told: list[Treatment] = []

    def hear(treatment: Treatment, **_: Any) -> None:
        told.append(treatment)

    treatment_changed.connect(hear)
    treatment = treat([cast.colony], planned=[GIVEN])
    doses = (NewDose(cast.colony, Decimal(1)),)
    give_round(round_=treatment.rounds.get(), given_on=GIVEN, doses=doses, at=LATER, by=cast.alice)
    skip_recount(recount=treatment.recount, why="Sold", at=LATER, by=cast.alice)
    cancel_treatment(treatment=treatment, why="Rain", at=LATER, by=cast.alice)
    treatment_changed.disconnect(hear)
    assert told == [treatment] * 4


def test_failure_half_way_keeps_nothing(cast: Cast) -> None:
    def fail(**_: Any) -> None:
        raise RuntimeError("the disk is full")

    post_save.connect(fail, sender=Recount)
    with pytest.raises(RuntimeError):
        treat([cast.colony])
    post_save.disconnect(fail, sender=Recount)
    assert (Treatment.objects.count(), Dose.objects.count()) == (0, 0)


def test_taking_out_after_the_next_of_the_same_kind_went_in_is_refused(cast: Cast) -> None:
    first = treat(cast.colonies[:1], GIVEN, way="formic_gel_strip_us")
    treat(cast.colonies[:1], GIVEN + dt.timedelta(days=30), way="formic_gel_strip_us")
    round_ = first.rounds.get()

    with pytest.raises(TwiceAtOnce):
        take_out(round_=round_, out_on=GIVEN + dt.timedelta(days=31), at=LATER, by=cast.alice)

    round_.refresh_from_db()
    assert round_.out_on is None


def test_key_of_somebody_else_keeps_nothing(cast: Cast) -> None:
    first = treat(cast.colonies[:1])
    again = replace(new(cast, given(cast, GIVEN)), entry_key=first.entry_key)

    with pytest.raises(EntryKeyReused):
        record_treatment(new=again, at=LATER, by=cast.bob)

    assert Treatment.objects.count() == 1


def test_a_later_round_cannot_be_given_before_an_earlier_one(cast: Cast) -> None:
    treatment = treat(cast.colonies[:2], GIVEN, planned=[GIVEN + dt.timedelta(days=7)])
    second = treatment.rounds.get(number=2)
    doses = [NewDose(cast.colony, Decimal(1))]

    for day in (GIVEN - dt.timedelta(days=1), GIVEN):
        with pytest.raises(NotPossible):
            give_round(round_=second, given_on=day, doses=doses, at=LATER, by=cast.alice)

    assert treatment.rounds.get(number=2).given_on is None
