"""By when yards say to count again: marked with every change, worked out soon after, put right where it drifted."""

import datetime as dt
import logging

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from apiaries.actions import add_numbered_colonies, add_yard, edit_club, end_colony, move_colony
from apiaries.models import Brood
from apiaries.on_page import YardOnPage
from counts.actions import void_sample
from tests.cast import STARTED, Cast
from tests.treatments.making import LATER, jar, treat
from treatments import yard_outlooks
from treatments.actions import cancel_treatment
from treatments.models import YardOutlook
from treatments.outlook_panel import yard_outlook
from treatments.yard_outlooks import (
    NOT_COUNTED,
    NOT_WORKED_OUT,
    mark_stale,
    outlook_of,
    recompute_outlooks,
    refresh_all_outlooks,
    refresh_outlooks,
)

D = dt.date
JULY = D(2026, 7, 1)
AT = dt.datetime(2026, 7, 5, 10, tzinfo=dt.UTC)


@pytest.fixture(autouse=True)
def _july_and_one_level(cast, reference, time_machine):
    time_machine.move_to(AT, tick=False)
    cast.club.action_level_issuer = "us_univ_florida"  # act at 3 per 100 bees, the year round
    cast.club.save()


def _counted(cast: Cast, mites: int = 1, on: D = JULY) -> None:
    for colony in cast.colonies[:3]:
        jar(colony, on, mites, brood=Brood.SOME)


def _row(cast: Cast) -> YardOutlook:
    return YardOutlook.objects.get(yard=cast.alice_yard)


def _refreshed(cast: Cast) -> YardOutlook:
    refresh_outlooks(at=AT)
    return _row(cast)


def test_day_is_the_one_the_yard_page_shows(cast):
    _counted(cast)
    assert _row(cast).stale and _row(cast).count_by is None
    row = _refreshed(cast)
    says = yard_outlook(cast.alice, YardOnPage(cast.alice, cast.alice_yard)).context["outlook"]

    assert row.count_by == says.again.by > AT.date()
    assert (row.sampled_on, row.why_none, row.stale, row.computed_at) == (JULY, "", False, AT)
    assert row.level == 0.03 and row.spread is not None


def test_day_does_not_move_with_the_days_that_pass(cast):
    _counted(cast)
    row = _refreshed(cast)
    mark_stale([cast.alice_yard.pk])
    refresh_outlooks(at=AT + dt.timedelta(days=200))
    assert _row(cast).count_by == row.count_by


def test_yard_that_was_never_counted_gets_no_day(cast):
    assert refresh_outlooks(at=AT) == 2
    assert (_row(cast).count_by, _row(cast).why_none) == (None, NOT_COUNTED)


@pytest.mark.parametrize(("brood", "word"), [(Brood.NONE, "broodless"), (Brood.SOME, "no_estimate")])
def test_no_day_is_kept_with_the_word_why(cast, brood, word):
    jar(cast.colony, JULY, 1, brood=brood)
    assert (_refreshed(cast).count_by, _row(cast).why_none) == (None, word)


def test_second_refresh_has_nothing_to_do(cast):
    _counted(cast)
    assert refresh_outlooks(at=AT) == 2
    assert refresh_outlooks(at=AT) == 0


def test_portion_takes_no_more_than_it_may(cast):
    assert [refresh_outlooks(at=AT, limit=1) for _ in range(3)] == [1, 1, 0]


def test_no_new_portion_is_begun_once_enough_are_done(cast, monkeypatch):
    monkeypatch.setattr(yard_outlooks, "refresh_outlooks", lambda at: refresh_outlooks(at=at, limit=1))
    refresh_all_outlooks(at=AT, most=1)
    assert YardOutlook.objects.filter(stale=True).count() == 1
    refresh_all_outlooks(at=AT)
    assert not YardOutlook.objects.filter(stale=True).exists()


def test_voided_count_marks_its_yard(cast):
    _counted(cast)
    before = _refreshed(cast)
    sample = jar(cast.colonies[3], D(2026, 7, 2), 40, brood=Brood.SOME)
    worse = _refreshed(cast)
    void_sample(sample=sample, why="typed wrong", at=LATER, by=cast.alice)
    assert _row(cast).stale
    assert worse.count_by < before.count_by == _refreshed(cast).count_by


def test_treatment_marks_the_yard_and_takes_the_day_away_until_it_is_cancelled(cast):
    _counted(cast)
    before = _refreshed(cast)
    treatment = treat([cast.colony], D(2026, 7, 3))
    assert (_refreshed(cast).count_by, _row(cast).why_none) == (None, "treated_since")
    cancel_treatment(treatment=treatment, why="rain", at=LATER, by=cast.alice)
    assert _refreshed(cast).count_by == before.count_by


def test_treatment_marks_the_yard_to_which_a_treated_colony_went(cast):
    other = add_yard(keeper=cast.alice, region=cast.north, name="Heather", by=cast.alice)
    treatment = treat([cast.colony], D(2026, 7, 3))
    move_colony(colony=cast.colony, to_yard=other, moved_on=D(2026, 7, 4), by=cast.alice)
    refresh_outlooks(at=AT)
    cancel_treatment(treatment=treatment, why="rain", at=LATER, by=cast.alice)
    assert set(YardOutlook.objects.filter(stale=True).values_list("yard", flat=True)) == {
        cast.alice_yard.pk,
        other.pk,
    }


def test_colonies_that_come_move_or_end_mark_their_yards(cast):
    other = add_yard(keeper=cast.alice, region=cast.north, name="Heather", by=cast.alice)
    refresh_outlooks(at=AT)

    def marked() -> set[str]:
        names = set(YardOutlook.objects.filter(stale=True).values_list("yard__name", flat=True))
        refresh_outlooks(at=AT)
        return names

    add_numbered_colonies(yard=other, first=20, last=21, started_on=STARTED, by=cast.alice)
    assert marked() == {"Heather"}
    move_colony(colony=cast.colony, to_yard=other, moved_on=D(2026, 7, 4), by=cast.alice)
    assert marked() == {"Heather", "Home yard"}
    end_colony(colony=cast.colonies[1], ended_on=JULY, why="sold", by=cast.alice)
    assert marked() == {"Home yard"}
    assert marked() == set()


def _edit(cast: Cast, **changes) -> None:
    names = ("name", "time_zone", "jurisdiction", "action_level_issuer", "bees_per_half_cup")
    facts = {name: getattr(cast.club, name) for name in names} | changes
    edit_club(club=cast.club, by=cast.adam, **facts)


def test_another_issuer_marks_every_yard_of_the_club(cast):
    _counted(cast)
    before = _refreshed(cast)
    _edit(cast, action_level_issuer="")
    assert not YardOutlook.objects.filter(stale=False).exists()
    assert before.count_by and _refreshed(cast).why_none == "no_level"


def test_change_is_undone_with_its_transaction(cast):
    refresh_outlooks(at=AT)
    with pytest.raises(RuntimeError), transaction.atomic():
        _counted(cast)
        raise RuntimeError
    assert not _row(cast).stale


def test_single_yard_is_worked_out_on_the_spot(cast):
    _counted(cast)
    row = outlook_of(cast.alice_yard, at=AT)
    assert row.count_by == _row(cast).count_by is not None and not _row(cast).stale
    with CaptureQueriesContext(connection) as again:
        assert outlook_of(cast.alice_yard, at=AT + dt.timedelta(hours=1)).computed_at == AT
    assert not any("UPDATE" in query["sql"].split(" FOR ")[0] for query in again)


def test_single_yard_without_a_row_has_no_outlook(cast):
    YardOutlook.objects.all().delete()
    assert outlook_of(cast.alice_yard, at=AT) is None


def test_drift_is_named_once_and_put_right(cast):
    _counted(cast)
    right = _refreshed(cast).count_by
    YardOutlook.objects.filter(yard=cast.alice_yard).update(count_by=D(2027, 1, 1))
    assert [drift.what for drift in recompute_outlooks(at=AT)] == [f"yard {cast.alice_yard.pk}"]
    assert _row(cast).count_by == right
    assert recompute_outlooks(at=AT) == []


def test_counted_yard_without_a_row_is_drift(cast):
    _counted(cast)
    YardOutlook.objects.all().delete()
    (drift,) = recompute_outlooks(at=AT)
    assert drift.what == f"yard {cast.alice_yard.pk}, no outlook kept"
    assert _row(cast).count_by is not None


def test_what_was_merely_stale_or_moved_with_the_clubs_spread_is_no_drift(cast):
    _counted(cast)
    assert recompute_outlooks(at=AT) == []
    YardOutlook.objects.filter(yard=cast.alice_yard).update(count_by=D(2027, 1, 1), spread=9.0)
    assert recompute_outlooks(at=AT) == []
    assert _row(cast).count_by < D(2027, 1, 1)


def test_sum_that_breaks_is_told_and_holds_up_nobody(cast, monkeypatch, caplog):
    _counted(cast)
    right = yard_outlooks.yard_outlook_says

    def breaks(yard, *args, **kwargs):
        if yard.pk == cast.charlie_yard.pk:
            raise ZeroDivisionError
        return right(yard, *args, **kwargs)

    monkeypatch.setattr(yard_outlooks, "yard_outlook_says", breaks)
    with caplog.at_level(logging.ERROR):
        assert refresh_outlooks(at=AT) == 2
    assert f"outlook of yard {cast.charlie_yard.pk}" in caplog.text
    assert YardOutlook.objects.get(yard=cast.charlie_yard).why_none == NOT_WORKED_OUT
    assert _row(cast).count_by is not None


@pytest.mark.slow
@pytest.mark.django_db(transaction=True)
def test_yard_that_another_process_holds_is_left_to_it(cast):
    from concurrent.futures import ThreadPoolExecutor

    def elsewhere() -> int:
        try:
            return refresh_outlooks(at=AT)
        finally:
            connection.close()

    with ThreadPoolExecutor(1) as pool, transaction.atomic():
        YardOutlook.objects.select_for_update().get(yard=cast.alice_yard)
        assert pool.submit(elsewhere).result() == 1
    assert refresh_outlooks(at=AT) == 1
