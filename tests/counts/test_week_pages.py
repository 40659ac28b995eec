"""The pages of count weeks and months, as a browser gets them."""

import datetime as dt
import re
from collections.abc import Callable
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apiaries.actions import add_numbered_colonies, add_yard
from apiaries.models import Person
from apiaries.permissions import Role
from counts.models import CountWeek
from counts.week_actions import cancel_count_week, set_count_week
from tests.cast import STARTED, Cast, join, make_person
from tests.counts.counting import kept

pytestmark = pytest.mark.django_db
D = dt.date
AT = dt.datetime(2026, 8, 12, 10, tzinfo=dt.UTC)
FIRST, LAST = D(2026, 8, 10), D(2026, 8, 16)
LIST = "/count-weeks/"
For = Callable[[Person | None], Client]


@pytest.fixture(autouse=True)
def _on_that_day() -> Any:
    with time_machine.travel(AT, tick=False):
        yield


def a_week(cast: Cast, first: D = FIRST, last: D = LAST) -> CountWeek:
    at = min(AT, dt.datetime.combine(first, dt.time(6), tzinfo=dt.UTC))
    return set_count_week(club=cast.club, first_on=first, last_on=last, at=at, by=cast.dana)


def more_keepers(cast: Cast, number: int) -> list[Person]:
    people = [join(cast.club, make_person(f"Keeper{n}"), Role.MEMBER) for n in range(number)]
    for person in people:
        yard = add_yard(keeper=person, region=cast.north, name=f"Of {person.name}", by=person)
        add_numbered_colonies(yard=yard, first=1, last=1, started_on=STARTED, by=person)
    return people


def page(client: Client, url: str = LIST) -> str:
    answer = client.get(url)
    assert answer.status_code == 200
    return re.sub(r"\s+", " ", answer.content.decode())


def test_every_member_sees_how_it_goes_and_nobody_is_named(cast: Cast, client_for: For) -> None:
    a_week(cast)
    people = more_keepers(cast, 4)
    for number, person in enumerate(people):
        kept(person.yards.get().colonies.get(), person, number, sampled_on=D(2026, 8, 11))
    kept(cast.colony, cast.alice, 0, sampled_on=D(2026, 8, 11))
    pages = {name: page(client_for(getattr(cast, name))) for name in ("charlie", "dana", "ines")}

    for text in pages.values():
        assert "<strong>5 of 6 keepers</strong> have counted in at least one yard" in text
        assert "<strong>5 of 6 yards</strong>" in text
        assert "<strong>2 of 5 counts</strong> found no mites" in text
        assert "finds no mites is asked for, too" in text
        assert not any(person.name in text for person in (*people, cast.alice))
    assert "Set a count week" in pages["dana"] and "Set a count week" not in pages["charlie"]


def test_small_club_is_told_in_words_why_there_are_no_numbers(cast: Cast, client_for: For) -> None:
    a_week(cast)
    kept(cast.colony, cast.alice, 0, sampled_on=D(2026, 8, 11))
    text = page(client_for(cast.charlie))
    assert "Fewer than 3 keepers are asked" in text and "<progress" not in text and " of 2" not in text


def test_few_counts_say_why_none_found_is_not_shown(cast: Cast, client_for: For) -> None:
    a_week(cast)
    (person,) = more_keepers(cast, 1)
    kept(person.yards.get().colonies.get(), person, 0, sampled_on=D(2026, 8, 11))
    text = page(client_for(cast.charlie))
    assert "1 of 3 keepers" in text and "counts</strong> found" not in text
    assert "is shown once at least 3 keepers counted in 5 yards" in text


def test_states_are_words(cast: Cast, client_for: For) -> None:
    a_week(cast, D(2026, 7, 1), D(2026, 7, 5))
    a_week(cast)
    a_week(cast, D(2026, 9, 1), D(2026, 9, 1))
    gone = a_week(cast, D(2026, 10, 1), D(2026, 10, 5))
    cancel_count_week(week=gone, why="too cold", at=AT, by=cast.adam)
    text = page(client_for(cast.charlie))
    for words in ("<strong>Past</strong>", "<strong>Running</strong>, 4 more days after today"):
        assert words in text
    assert "<strong>Coming</strong>" in text
    assert "<strong>Cancelled</strong> by Adam on 12 Aug 2026: too cold" in text


def test_member_of_another_club_sees_none_of_it(cast: Cast, client_for: For) -> None:
    a_week(cast)
    assert "No count week yet" in page(client_for(cast.zoe))


def test_somebody_without_a_club_finds_no_page(cast: Cast, client_for: For) -> None:
    assert client_for(make_person("Nora")).get(LIST).status_code == 404


def test_coordinator_sets_a_week(cast: Cast, client_for: For) -> None:
    answer = client_for(cast.dana).post(
        "/count-weeks/set/", {"first_on": "20 Aug 2026", "last_on": "26 Aug 2026"}, follow=True
    )
    week = CountWeek.objects.get()
    assert (week.first_on, week.last_on, week.set_by) == (D(2026, 8, 20), D(2026, 8, 26), cast.dana)
    assert "Count week set, from 20 Aug 2026 to 26 Aug 2026." in answer.content.decode()


@pytest.mark.parametrize(
    ("first", "last", "field", "words"),
    [
        ("20 Aug 2026", "19 Aug 2026", "last_on", "The last day comes before the first."),
        ("20 Aug 2026", "20 Sep 2026", "last_on", "longer than 31 days"),
        ("1 Aug 2026", "11 Aug 2026", "last_on", "This day is past"),
        ("16 Aug 2026", "20 Aug 2026", "first_on", "another count week on one of these days"),
        ("20 Aug 2028", "26 Aug 2028", "first_on", "more than a year ahead"),
        ("soon", "26 Aug 2026", "first_on", "Enter the date"),
        ("", "26 Aug 2026", "first_on", "Enter the date"),
    ],
)
def test_what_cannot_be_is_said_at_its_field_and_keeps_what_was_typed(
    cast: Cast, client_for: For, first: str, last: str, field: str, words: str
) -> None:
    a_week(cast)
    answer = client_for(cast.dana).post("/count-weeks/set/", {"first_on": first, "last_on": last})
    text = answer.content.decode()
    assert words in str(answer.context["form"].errors[field]) and words in text
    assert f'value="{last}"' in text and (not first or f'value="{first}"' in text)
    assert CountWeek.objects.count() == 1


def test_week_is_cancelled_with_a_reason_and_only_once(cast: Cast, client_for: For) -> None:
    url = f"/count-weeks/{a_week(cast).pk}/cancel/"
    dana = client_for(cast.dana)
    assert "Say why" in dana.post(url, {"why": " "}).content.decode()
    assert CountWeek.objects.get().cancelled_at is None
    assert "Nobody is asked for it any more." in dana.post(url, {"why": "rain"}, follow=True).content.decode()
    again = dana.post(url, {"why": "sun"}, follow=True)
    assert "Nothing was changed." in again.content.decode()
    assert CountWeek.objects.get().cancelled_why == "rain"


def test_months_are_chosen_and_told(cast: Cast, client_for: For) -> None:
    adam = client_for(cast.adam)
    assert "has named no months" in page(adam)
    adam.post("/count-weeks/months/", {"months": ["8", "5"]})
    assert "a count in every yard in May, August." in page(client_for(cast.charlie))
    form = page(adam, "/count-weeks/months/")
    assert re.findall(r'value="(\d+)"[^>]*checked', form) == ["5", "8"]
    adam.post("/count-weeks/months/", {})
    cast.club.refresh_from_db()
    assert cast.club.count_months == []


def test_month_that_is_none_is_refused(cast: Cast, client_for: For) -> None:
    answer = client_for(cast.dana).post("/count-weeks/months/", {"months": ["13"]})
    assert "Choose from the twelve months." in answer.content.decode()
    cast.club.refresh_from_db()
    assert cast.club.count_months == []


def test_counts_and_members_lead_there(cast: Cast, client_for: For) -> None:
    assert LIST in page(client_for(cast.charlie), reverse("counts:sample-list"))
    members = reverse("apiaries:member-list")
    assert "None is set." in page(client_for(cast.dana), members)
    a_week(cast)
    assert "One is running, until 16 Aug 2026." in page(client_for(cast.adam), members)
    cancel_count_week(week=CountWeek.objects.get(), why="rain", at=AT, by=cast.dana)
    a_week(cast, D(2026, 9, 1), D(2026, 9, 7))
    assert "The next one is from 1 Sep 2026 to 7 Sep 2026." in page(client_for(cast.dana), members)


def test_page_costs_no_more_queries_for_more_weeks(cast: Cast, client_for: For) -> None:
    a_week(cast)
    client = client_for(cast.dana)
    page(client)
    with CaptureQueriesContext(connection) as few:
        page(client)
    for month in (5, 6, 7):
        a_week(cast, D(2026, month, 1), D(2026, month, 5))
    more_keepers(cast, 3)
    with CaptureQueriesContext(connection) as many:
        page(client)
    assert len(few) == len(many)
