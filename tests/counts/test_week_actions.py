"""Setting and cancelling count weeks, leaving a count out, choosing months: what is kept and what is refused."""

import datetime as dt
import threading
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction

from apiaries.actions import set_count_months
from apiaries.models import Club
from counts.call_rules import WEEK_DAYS_MAX
from counts.models import CountLeftOut, CountWeek
from counts.week_actions import (
    AlreadyCancelled,
    AlreadyLeftOut,
    AlreadyOver,
    Backwards,
    InThePast,
    Overlaps,
    TooLong,
    cancel_count_week,
    leave_out_count,
    set_count_week,
)
from tests.cast import Cast

pytestmark = pytest.mark.django_db
D = dt.date
AT = dt.datetime(2026, 8, 1, 10, tzinfo=dt.UTC)


def a_week(cast: Cast, first: int = 8, last: int = 14, **more: Any) -> CountWeek:
    facts = {"club": cast.club, "at": AT, "by": cast.dana} | more
    return set_count_week(first_on=D(2026, 8, first), last_on=D(2026, 8, last), **facts)


def test_week_is_kept_with_who_set_it(cast: Cast) -> None:
    week = a_week(cast)
    assert (week.set_by, week.set_at, week.cancelled_at) == (cast.dana, AT, None)
    assert list(CountWeek.objects.running(D(2026, 8, 14))) == [week]
    assert not CountWeek.objects.running(D(2026, 8, 7)).exists()
    assert not CountWeek.objects.running(D(2026, 8, 15)).exists()


@pytest.mark.parametrize(
    ("first", "last", "error"),
    [
        (D(2026, 8, 9), D(2026, 8, 8), Backwards),
        (D(2026, 8, 9), D(2026, 9, 9), TooLong),
        (D(2026, 7, 20), D(2026, 7, 31), InThePast),
    ],
)
def test_window_that_cannot_be_is_refused_and_nothing_is_kept(
    cast: Cast, first: D, last: D, error: type[Exception]
) -> None:
    with pytest.raises(error):
        set_count_week(club=cast.club, first_on=first, last_on=last, at=AT, by=cast.dana)
    assert not CountWeek.objects.exists()


def test_longest_window_and_a_running_one_are_kept(cast: Cast) -> None:
    longest = dt.timedelta(days=WEEK_DAYS_MAX - 1)
    set_count_week(
        club=cast.club, first_on=D(2026, 7, 10), last_on=D(2026, 7, 10) + longest, at=AT, by=cast.dana
    )
    set_count_week(club=cast.club, first_on=D(2026, 9, 1), last_on=D(2026, 9, 1), at=AT, by=cast.dana)
    assert CountWeek.objects.count() == 2


def test_day_is_that_of_the_club(cast: Cast) -> None:
    late = dt.datetime(2026, 8, 14, 22, 30, tzinfo=dt.UTC)  # the 15th already in Berlin
    with pytest.raises(InThePast):
        a_week(cast, at=late)


@pytest.mark.parametrize(("first", "last"), [(14, 20), (1, 8), (10, 11), (1, 25)])
def test_two_weeks_of_a_club_share_no_day(cast: Cast, first: int, last: int) -> None:
    a_week(cast)
    with pytest.raises(Overlaps):
        a_week(cast, first, last)
    assert CountWeek.objects.count() == 1


def test_weeks_next_to_each_other_and_of_other_clubs_are_free(cast: Cast) -> None:
    a_week(cast)
    a_week(cast, 15, 20)
    a_week(cast, 1, 7)
    a_week(cast, club=Club.objects.get(name="Another club"), by=cast.zoe)
    assert CountWeek.objects.count() == 4


def test_cancelled_week_stays_with_why_and_frees_its_days(cast: Cast) -> None:
    week = cancel_count_week(week=a_week(cast), why=" too cold ", at=AT, by=cast.adam)
    assert (week.cancelled_by, week.cancelled_why) == (cast.adam, "too cold")
    a_week(cast)
    assert list(CountWeek.objects.standing().values_list("pk")) != [(week.pk,)]
    with pytest.raises(AlreadyCancelled):
        cancel_count_week(week=week, why="again", at=AT, by=cast.dana)


def test_week_that_is_over_cannot_be_cancelled(cast: Cast) -> None:
    week = a_week(cast)
    with pytest.raises(AlreadyOver):
        cancel_count_week(week=week, why="late", at=AT + dt.timedelta(days=20), by=cast.dana)
    week.refresh_from_db()
    assert week.cancelled_at is None


@pytest.mark.parametrize(
    "wrong",
    [
        {"last_on": D(2026, 8, 7)},
        {"last_on": D(2026, 9, 8)},
        {"cancelled_at": AT},
        {"cancelled_why": "no"},
    ],
)
def test_database_refuses_what_no_action_would_write(cast: Cast, wrong: dict[str, Any]) -> None:
    week = a_week(cast)
    with pytest.raises(IntegrityError), transaction.atomic():
        CountWeek.objects.filter(pk=week.pk).update(**wrong)


def test_count_is_left_out_once_for_a_reason(cast: Cast) -> None:
    facts = {"yard": cast.alice_yard, "subject": "week:1:2", "at": AT}
    leave_out_count(why=" rain ", by=cast.bob, **facts)
    with pytest.raises(AlreadyLeftOut):
        leave_out_count(why="rain", by=cast.alice, **facts)
    kept = CountLeftOut.objects.get()
    assert (kept.why, kept.by, kept.at) == ("rain", cast.bob, AT)
    with pytest.raises(IntegrityError):
        leave_out_count(why=" ", by=cast.alice, **facts | {"subject": "week:2:2"})


def test_months_are_kept_in_order_each_once(cast: Cast) -> None:
    set_count_months(club=cast.club, months=[8, 5, 8], by=cast.dana)
    cast.club.refresh_from_db()
    assert cast.club.count_months == [5, 8]
    set_count_months(club=cast.club, months=[], by=cast.dana)
    cast.club.refresh_from_db()
    assert cast.club.count_months == []


def test_month_that_no_year_has_is_a_mistake(cast: Cast) -> None:
    with pytest.raises(ValueError, match="1 to 12"):
        set_count_months(club=cast.club, months=[0], by=cast.dana)


@pytest.mark.slow
@pytest.mark.django_db(transaction=True)
def test_two_weeks_set_at_once_make_one(cast: Cast) -> None:
    answers: list[str] = []
    start = threading.Barrier(2)

    def set_one() -> None:
        start.wait(10)
        try:
            a_week(cast)
            answers.append("set")
        except Overlaps:
            answers.append("overlaps")
        finally:
            connection.close()

    threads = [threading.Thread(target=set_one) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)

    assert sorted(answers) == ["overlaps", "set"]
    assert CountWeek.objects.count() == 1
