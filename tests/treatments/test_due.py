"""What is due, in which order, with which one action."""

import datetime as dt
from typing import Any

import pytest
import time_machine
from django.urls import reverse

from tests.cast import Cast
from tests.treatments.making import AFTER, BEFORE, GIVEN, LATER, jar, treat
from treatments.actions import cancel_treatment, skip_recount
from treatments.due import DueKind, Urgency, due_list, recounts_wanted

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("reference")]
D = dt.date


@pytest.mark.parametrize(
    ("on", "urgency"),
    [
        (D(2026, 8, 4), Urgency.COMING),
        (D(2026, 8, 17), Urgency.DUE),
        (D(2026, 8, 31), Urgency.DUE),
        (D(2026, 9, 1), Urgency.LATE),
    ],
)
def test_recount_goes_from_coming_to_late(cast: Cast, on: D, urgency: Urgency) -> None:
    treat([cast.colony])
    (item,) = due_list(cast.alice, on)
    assert (item.kind, item.urgency, item.on) == (DueKind.RECOUNT, urgency, D(2026, 8, 17))
    assert item.url == f"/yards/{cast.alice_yard.pk}/counts/new/"


def test_recount_that_comes_too_late_asks_for_the_reason(cast: Cast) -> None:
    recount = treat([cast.colony]).recount
    # latest day 31 Aug, and 28 days on which a count still serves (our choice)
    urls = [due_list(cast.alice, day)[0].url for day in (D(2026, 9, 28), D(2026, 9, 29))]
    assert urls == [f"/yards/{cast.alice_yard.pk}/counts/new/", f"/recounts/{recount.pk}/skip/"]


def test_done_skipped_and_cancelled_ask_for_nothing(cast: Cast) -> None:
    treat([cast.colony])
    jar(cast.colony, BEFORE, 9)
    jar(cast.colony, AFTER, 1)
    skip_recount(recount=treat([cast.colonies[1]]).recount, why="sold", at=LATER, by=cast.alice)
    cancel_treatment(treatment=treat([cast.colonies[2]]), why="rain", at=LATER, by=cast.alice)
    assert due_list(cast.alice, D(2026, 9, 1)) == []


def test_strips_come_before_the_recount_even_if_it_was_skipped(cast: Cast) -> None:
    treatment = treat([cast.colony], way="amitraz_strip_us")  # 42 days: out on 14 Sep
    assert due_list(cast.alice, D(2026, 8, 20)) == []
    (item,) = due_list(cast.alice, D(2026, 9, 20))
    assert (item.kind, item.urgency, item.on) == (DueKind.TAKE_OUT, Urgency.LATE, D(2026, 9, 14))
    skip_recount(recount=treatment.recount, why="sold", at=LATER, by=cast.alice)
    assert [one.kind for one in due_list(cast.alice, D(2026, 9, 20))] == [DueKind.TAKE_OUT]


def test_what_the_label_times_has_no_day_but_is_listed(cast: Cast) -> None:
    treat([cast.colony], way="formic_other_any")
    (item,) = due_list(cast.alice, GIVEN)
    assert (item.kind, item.on, item.urgency) == (DueKind.TAKE_OUT, None, Urgency.COMING)


def test_planned_round_is_listed_on_its_day(cast: Cast) -> None:
    treatment = treat([cast.colony], planned=[D(2026, 8, 10)])
    (item,) = due_list(cast.alice, D(2026, 8, 10))
    assert (item.kind, item.urgency) == (DueKind.GIVE_ROUND, Urgency.DUE)
    assert item.url == f"/treatments/{treatment.pk}/rounds/1/give/"


def test_round_left_out_gives_way_to_the_recount_that_is_due(cast: Cast) -> None:
    treat([cast.colony], GIVEN, planned=[D(2026, 8, 10)])
    assert due_list(cast.alice, D(2026, 8, 20))[0].kind is DueKind.GIVE_ROUND
    assert due_list(cast.alice, D(2026, 8, 24))[0].kind is DueKind.RECOUNT


def test_late_comes_first_then_due_then_coming(cast: Cast) -> None:
    one, two, three, *_ = cast.colonies
    treat([one], D(2026, 8, 20))
    treat([two], D(2026, 7, 10))
    treat([three], D(2026, 8, 5))
    urgencies = [item.urgency for item in due_list(cast.alice, D(2026, 8, 25))]
    assert urgencies == [Urgency.LATE, Urgency.DUE, Urgency.COMING]


def test_helpers_see_it_and_others_do_not(cast: Cast) -> None:
    treat([cast.colony])
    seen = {one.name: len(due_list(one, D(2026, 8, 20))) for one in (cast.bob, cast.charlie, cast.ines)}
    assert seen == {"Bob": 1, "Charlie": 0, "Ines": 0}


def test_queries_do_not_grow(cast: Cast, django_assert_num_queries: Any) -> None:
    assert cast.alice.membership is not None
    assert cast.bob.membership is not None
    treat(cast.colonies[:1])
    with django_assert_num_queries(8):
        due_list(cast.alice, D(2026, 8, 20))
    for day in range(4, 9):
        treat(cast.colonies, D(2026, 8, day))
    with django_assert_num_queries(8):
        assert len(due_list(cast.alice, D(2026, 8, 20))) == 6


def test_count_page_opened_for_an_earlier_day_names_the_recount(cast: Cast, client_for: Any) -> None:
    treat([cast.colony])
    words = "Recount after "
    assert recounts_wanted(cast.alice_yard, D(2026, 8, 4)) == []
    (told,) = recounts_wanted(cast.alice_yard, D(2026, 8, 31))
    assert told.startswith(words) and "best on 17 Aug 2026" in told and told.endswith("to 31 Aug 2026.")
    assert recounts_wanted(cast.alice_yard, D(2026, 9, 29)) == []  # too late for it

    url = reverse("counts:yard-count", args=[cast.alice_yard.pk])
    with time_machine.travel(dt.datetime(2026, 8, 31, 10, tzinfo=dt.UTC), tick=False):
        assert told in client_for(cast.alice).get(f"{url}?earlier=1").content.decode()
        assert words not in client_for(cast.alice).get(url).content.decode()
