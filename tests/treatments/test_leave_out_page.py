"""No count this time, because …: from the page, for what the yard is asked for now and nothing else."""

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
import time_machine
from django.test import Client

from apiaries.models import Person, Yard
from counts.models import CountLeftOut
from counts.week_actions import leave_out_count, set_count_week
from tests.cast import Cast
from treatments import views_calls
from treatments.count_calls import count_calls
from treatments.models import YardOutlook

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("reference")]
AT = dt.datetime(2026, 8, 12, 10, tzinfo=dt.UTC)
For = Callable[[Person | None], Client]


@pytest.fixture(autouse=True)
def _august(cast: Cast, reference: None) -> Any:
    with time_machine.travel(AT, tick=False):
        Yard.objects.update(made_at=AT)
        cast.club.count_months = [8]
        cast.club.save()
        yield


def _url(cast: Cast, about: str | None = None) -> str:
    query = "" if about is None else f"?about={about}"
    return f"/yards/{cast.alice_yard.pk}/count/leave-out/{query}"


def _subject(cast: Cast) -> str:
    return f"count:{cast.alice_yard.pk}:2026-08"


def test_helper_leaves_out_the_count_with_a_reason(cast: Cast, client_for: For) -> None:
    bob, url = client_for(cast.bob), _url(cast, _subject(cast))
    page = bob.get(url).content.decode()
    assert "every yard in Aug 2026" in page and "Mon 31 Aug 2026" in page
    answer = bob.post(url, {"why": "being moved"}, follow=True)
    assert "not asked for this count any more" in answer.content.decode()
    kept = CountLeftOut.objects.get()
    assert (kept.yard, kept.subject, kept.why, kept.by) == (
        cast.alice_yard,
        _subject(cast),
        "being moved",
        cast.bob,
    )
    assert cast.alice_yard not in [call.yard for call in count_calls(Yard.objects.all(), AT.date())]


def test_without_an_address_it_is_what_is_asked_for_now(cast: Cast, client_for: For) -> None:
    week = set_count_week(club=cast.club, first_on=AT.date(), last_on=AT.date(), at=AT, by=cast.dana)
    client_for(cast.alice).post(_url(cast), {"why": "rain"})
    assert CountLeftOut.objects.get().subject == f"week:{week.pk}:{cast.alice_yard.pk}"


@pytest.mark.parametrize("why", ["", "  ", "x" * 201])
def test_reason_is_needed_and_short(cast: Cast, client_for: For, why: str) -> None:
    answer = client_for(cast.alice).post(_url(cast, _subject(cast)), {"why": why})
    assert answer.status_code == 200 and answer.context["form"].errors["why"]
    assert why.strip() in answer.content.decode()
    assert not CountLeftOut.objects.exists()


@pytest.mark.parametrize("about", ["nonsense", "week:1:1", "count:1:2026-07", "%00", "again:1:2026-08-01"])
def test_what_is_not_asked_for_cannot_be_left_out(cast: Cast, client_for: For, about: str) -> None:
    alice = client_for(cast.alice)
    for answer in (alice.get(_url(cast, about)), alice.post(_url(cast, about), {"why": "rain"})):
        assert answer.status_code == 200 and "There is nothing to leave out." in answer.content.decode()
    assert not CountLeftOut.objects.exists()


def test_count_of_another_yard_cannot_be_left_out_here(cast: Cast, client_for: For) -> None:
    about = f"count:{cast.charlie_yard.pk}:2026-08"
    client_for(cast.alice).post(_url(cast, about), {"why": "rain"})
    assert not CountLeftOut.objects.exists()


def test_outlook_is_that_of_this_moment(cast: Cast, client_for: For) -> None:
    facts = {"count_by": AT.date(), "sampled_on": dt.date(2026, 7, 1), "computed_at": AT}
    about = f"again:{cast.alice_yard.pk}:{AT.date()}"
    rows = YardOutlook.objects.filter(yard=cast.alice_yard)
    rows.update(stale=False, **facts)
    assert "By the count of 1 Jul 2026" in client_for(cast.alice).get(_url(cast, about)).content.decode()
    rows.update(stale=True)  # and nothing was ever counted there
    assert "There is nothing to leave out." in client_for(cast.alice).get(_url(cast, about)).content.decode()


def test_second_time_there_is_nothing_left(cast: Cast, client_for: For) -> None:
    alice, url = client_for(cast.alice), _url(cast, _subject(cast))
    alice.post(url, {"why": "rain"})
    assert "There is nothing to leave out." in alice.post(url, {"why": "sun"}).content.decode()
    assert CountLeftOut.objects.get().why == "rain"


def test_somebody_else_at_this_very_moment_is_told(
    cast: Cast, client_for: For, monkeypatch: pytest.MonkeyPatch
) -> None:
    def after_bob(**facts: Any) -> CountLeftOut:
        leave_out_count(**facts | {"by": cast.bob, "why": "snow"})
        return leave_out_count(**facts)

    monkeypatch.setattr(views_calls, "leave_out_count", after_bob)
    answer = client_for(cast.alice).post(_url(cast, _subject(cast)), {"why": "rain"})
    assert "at this very moment" in answer.content.decode() and "rain" in answer.content.decode()


def test_who_may_not_log_here_is_refused(cast: Cast, client_for: For) -> None:
    answers = {
        name: client_for(getattr(cast, name)).post(_url(cast), {"why": "rain"}).status_code
        for name in ("charlie", "ines", "dana", "zoe")
    }
    assert answers == {"charlie": 404, "ines": 403, "dana": 404, "zoe": 404}
    assert not CountLeftOut.objects.exists()
