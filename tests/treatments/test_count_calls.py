"""Which yards are asked for a count besides recounts, by whom, and what ends the asking."""

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from apiaries.actions import add_numbered_colonies, add_yard, end_colony
from apiaries.models import Brood, Yard
from counts.actions import void_sample
from counts.call_rules import CallWhy
from counts.week_actions import cancel_count_week, leave_out_count, set_count_week
from tests.cast import STARTED, Cast
from tests.treatments.making import LATER, board, jar, treat
from treatments.actions import skip_recount, take_out
from treatments.count_calls import CountCall, calls_about, count_calls
from treatments.models import YardOutlook

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("reference")]
D = dt.date
AT = dt.datetime(2026, 5, 1, 10, tzinfo=dt.UTC)
AUG = D(2026, 8, 10)
FIRST, LAST = D(2026, 8, 8), D(2026, 8, 14)
COUNTED = D(2026, 7, 1)


@pytest.fixture(autouse=True)
def _may(time_machine):
    time_machine.move_to(AT, tick=False)


@pytest.fixture
def asked(cast: Cast, _may, reference) -> Cast:
    """The cast, whose club asks for a count in August."""
    Yard.objects.update(made_at=AT)
    cast.club.count_months = [8]
    cast.club.save()
    return cast


def calls(on: D = AUG, yards=None) -> dict[str, CountCall]:
    found = count_calls(Yard.objects.all() if yards is None else yards, on)
    return {call.yard.name: call for call in found}


def outlook(yard: Yard, count_by: D | None, sampled_on: D = COUNTED, **more) -> YardOutlook:
    fields = {"count_by": count_by, "sampled_on": sampled_on, "stale": False, "computed_at": AT} | more
    return YardOutlook.objects.update_or_create(yard=yard, defaults=fields)[0]


def a_week(cast: Cast, first: D = FIRST, last: D = LAST):
    return set_count_week(club=cast.club, first_on=first, last_on=last, at=AT, by=cast.dana)


def test_calendar_asks_every_yard_with_colonies(asked: Cast) -> None:
    add_yard(keeper=asked.alice, region=asked.north, name="Empty", by=asked.alice)
    home, orchard = calls()["Home yard"], calls()["Orchard"]

    assert set(calls()) == {"Home yard", "Orchard"}
    assert (home.why, home.subject) == (CallWhy.CALENDAR, f"count:{asked.alice_yard.pk}:2026-08")
    assert (home.first_on, home.last_on, home.over_on) == (D(2026, 8, 1), D(2026, 8, 31), D(2026, 9, 7))
    assert (home.colonies, orchard.colonies) == (6, 2)
    assert "every yard in Aug 2026" in home.reason and "finds no mites" in home.reason


@pytest.mark.parametrize(
    ("on", "number"), [(D(2026, 7, 31), 0), (D(2026, 8, 1), 2), (D(2026, 9, 7), 2), (D(2026, 9, 8), 0)]
)
def test_calendar_asks_from_the_first_to_a_week_after(asked: Cast, on: D, number: int) -> None:
    assert len(calls(on)) == number


def test_without_months_week_or_outlook_nobody_is_asked(cast: Cast) -> None:
    assert calls() == {}


def test_only_the_yards_given_are_looked_at(asked: Cast) -> None:
    yards = Yard.objects.recordable_by(asked.charlie)
    assert set(calls(yards=yards)) == {"Orchard"} and calls(yards=Yard.objects.none()) == {}


def test_wash_or_board_answers_the_calendar_until_it_is_voided(asked: Cast) -> None:
    sample = board(asked.colony, AUG, 3)
    assert set(calls()) == {"Orchard"}
    void_sample(sample=sample, why="wrong yard", at=LATER, by=asked.alice)
    assert set(calls()) == {"Home yard", "Orchard"}


def test_count_before_the_month_or_under_a_treatment_answers_nothing(asked: Cast) -> None:
    jar(asked.colony, D(2026, 7, 31), 3)
    board(asked.colony, AUG, 30, treatment_in_hive=True)
    assert "Home yard" in calls()


def test_week_comes_before_outlook_and_outlook_before_calendar(asked: Cast) -> None:
    outlook(asked.alice_yard, D(2026, 8, 15))
    assert calls()["Home yard"].why is CallWhy.OUTLOOK
    assert calls()["Orchard"].why is CallWhy.CALENDAR
    week = a_week(asked)
    found = calls()
    assert {call.why for call in found.values()} == {CallWhy.WEEK}
    assert found["Home yard"].subject == f"week:{week.pk}:{asked.alice_yard.pk}"
    assert found["Home yard"].over_on == D(2026, 8, 14)
    cancel_count_week(week=week, why="too hot", at=AT, by=asked.dana)
    assert calls()["Orchard"].why is CallWhy.CALENDAR


def test_board_answers_the_week_but_not_the_outlook(asked: Cast) -> None:
    a_week(asked)
    board(asked.colony, AUG, 3)
    outlook(asked.alice_yard, D(2026, 8, 15))
    assert calls()["Home yard"].why is CallWhy.OUTLOOK
    jar(asked.colony, AUG, 3)
    assert "Home yard" not in calls()


def test_outlook_says_why_and_by_when(asked: Cast) -> None:
    outlook(asked.alice_yard, D(2026, 8, 15))
    call = calls()["Home yard"]
    assert call.subject == f"again:{asked.alice_yard.pk}:2026-08-15"
    assert (call.first_on, call.last_on, call.over_on) == (D(2026, 8, 8), D(2026, 8, 15), D(2026, 8, 29))
    assert "1 Jul 2026" in call.reason and "wash or a roll" in call.reason


def test_outlook_as_far_as_one_reaches_promises_no_chance(asked: Cast) -> None:
    outlook(asked.alice_yard, D(2026, 8, 15), capped=True)
    assert "chance" not in calls()["Home yard"].reason


def test_outlook_without_a_day_asks_for_nothing(asked: Cast) -> None:
    outlook(asked.alice_yard, None, why_none="broodless")
    assert calls()["Home yard"].why is CallWhy.CALENDAR


def test_outlook_of_last_year_is_long_over(asked: Cast) -> None:
    outlook(asked.alice_yard, D(2025, 8, 15), sampled_on=D(2025, 7, 1))
    assert calls()["Home yard"].why is CallWhy.CALENDAR


def test_left_out_is_not_asked_again_and_others_are(asked: Cast) -> None:
    subject = calls()["Home yard"].subject
    leave_out_count(yard=asked.alice_yard, subject=subject, why="in the heather", at=AT, by=asked.bob)
    assert set(calls()) == {"Orchard"}


def test_closed_yards_and_yards_without_living_colonies_are_not_asked(asked: Cast) -> None:
    asked.charlie_yard.closed_on = D(2026, 8, 1)
    asked.charlie_yard.save()
    for colony in asked.colonies:
        end_colony(colony=colony, ended_on=D(2026, 8, 1), why="sold", by=asked.alice)
    assert calls() == {}


def test_yard_made_after_the_last_day_is_not_asked(asked: Cast) -> None:
    Yard.objects.filter(pk=asked.alice_yard.pk).update(made_at=dt.datetime(2026, 8, 31, 23, tzinfo=dt.UTC))
    assert set(calls(D(2026, 9, 3))) == {"Orchard"}  # it was 1 September in the yard
    Yard.objects.filter(pk=asked.alice_yard.pk).update(made_at=dt.datetime(2026, 8, 31, 21, tzinfo=dt.UTC))
    assert set(calls(D(2026, 9, 3))) == {"Home yard", "Orchard"}


def test_strips_in_a_hive_are_not_counted_over(asked: Cast) -> None:
    treatment = treat([asked.colony], D(2026, 5, 3), way="amitraz_strip_us")
    skip_recount(recount=treatment.recount, why="strips left in", at=LATER, by=asked.alice)
    assert set(calls()) == {"Orchard"}
    take_out(round_=treatment.rounds.get(), out_on=D(2026, 6, 14), at=LATER, by=asked.alice)
    assert set(calls()) == {"Home yard", "Orchard"}


def test_open_recount_in_the_same_days_is_asked_for_instead(asked: Cast) -> None:
    treatment = treat([asked.colony])  # given 3 Aug: recount 17 to 31 Aug
    assert set(calls()) == {"Orchard"}
    skip_recount(recount=treatment.recount, why="no time", at=LATER, by=asked.alice)
    assert set(calls()) == {"Home yard", "Orchard"}


def test_between_a_treatment_and_its_recount_nobody_is_asked(asked: Cast) -> None:
    treatment = treat([asked.colony], D(2026, 7, 20), way="amitraz_strip_us")  # 42 days
    take_out(
        round_=treatment.rounds.get(), out_on=D(2026, 8, 31), at=LATER, by=asked.alice
    )  # recount from 14 Sep
    names = {call.yard.name for call in count_calls(Yard.objects.all(), D(2026, 9, 2))}
    assert names == {"Orchard"}  # August's count, late


def test_recount_in_other_days_hinders_nothing(asked: Cast) -> None:
    treat([asked.colony], D(2026, 7, 1))  # recount 15 to 29 July
    assert set(calls()) == {"Home yard", "Orchard"}


def test_earliest_last_day_first_then_by_name(asked: Cast) -> None:
    assert list(calls()) == ["Home yard", "Orchard"]
    outlook(asked.charlie_yard, D(2026, 8, 15))
    assert list(calls()) == ["Orchard", "Home yard"]


def test_asking_about_subjects_says_what_still_stands(asked: Cast) -> None:
    home, orchard = (f"count:{yard.pk}:2026-08" for yard in (asked.alice_yard, asked.charlie_yard))
    others = ["recount:1", f"count:{asked.alice_yard.pk}:2026-07", "week:1:999999999999999999", "nonsense"]
    assert set(calls_about([home, orchard, *others], lambda _: AUG)) == {home, orchard}

    jar(asked.colony, AUG, 0)
    assert set(calls_about([home, orchard], lambda _: AUG)) == {orchard}
    assert calls_about([home, orchard], lambda _: D(2026, 9, 8)) == {}
    assert calls_about([], lambda _: AUG) == {}


def test_day_is_that_of_each_yard(asked: Cast) -> None:
    subjects = [f"count:{yard.pk}:2026-08" for yard in (asked.alice_yard, asked.charlie_yard)]
    days = {asked.alice_yard.pk: D(2026, 9, 7), asked.charlie_yard.pk: D(2026, 9, 8)}
    assert set(calls_about(subjects, lambda yard: days[yard.pk])) == {subjects[0]}


def test_call_that_a_week_took_the_place_of_does_not_stand(asked: Cast) -> None:
    subject = f"count:{asked.alice_yard.pk}:2026-08"
    a_week(asked)
    assert calls_about([subject], lambda _: AUG) == {}


def test_queries_do_not_grow_with_the_yards(asked: Cast) -> None:
    a_week(asked, AUG, D(2026, 8, 20))
    treat([asked.colony])  # its recount opens on the 17th
    with CaptureQueriesContext(connection) as few:
        count_calls(Yard.objects.all(), AUG)
    for number in range(5):
        yard = add_yard(keeper=asked.alice, region=asked.north, name=f"Yard {number}", by=asked.alice)
        (colony,) = add_numbered_colonies(yard=yard, first=1, last=1, started_on=STARTED, by=asked.alice)
        jar(colony, D(2026, 7, 1), 1, brood=Brood.SOME)
        outlook(yard, D(2026, 8, 15))
        if number % 2:
            treat([colony])
    with CaptureQueriesContext(connection) as many:
        found = count_calls(Yard.objects.all(), AUG)

    assert len(few) == len(many) and len(found) == 4  # the others wait for their recounts
    with CaptureQueriesContext(connection) as none:
        [(call.yard.keeper.name, call.yard.club.name) for call in found]
    assert len(none) == 0
