"""The first page of who keeps no yards: the club's state for its coordinator, the regions for their inspector."""

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from apiaries.actions import add_numbered_colonies, add_yard, invite, set_sharing
from apiaries.models import Person, Yard
from apiaries.permissions import Role
from counts.models import CountWeek, EstimateBasis
from reports.models import Bulletin, Publication, RegionMonth
from reports.parts import Part
from tests.cast import STARTED, Cast, join, make_person
from tests.reports.counting import count
from tests.reports.treating import at, treated

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("reference")]
ON = dt.date(2026, 8, 22)
JULY = dt.date(2026, 7, 1)
Clients = Callable[[Person | None], Client]


@pytest.fixture(autouse=True)
def late_august() -> Any:
    with time_machine.travel(dt.datetime(2026, 8, 22, 9, tzinfo=dt.UTC), tick=False):
        yield


def _page(client: Client) -> str:
    return " ".join(client.get("/").content.decode().split())


def _yard(cast: Cast, name: str, mites: int, on: dt.date = ON) -> Yard:
    yard = add_yard(keeper=cast.alice, region=cast.north, name=name, by=cast.alice)
    for colony in add_numbered_colonies(yard=yard, first=1, last=3, started_on=STARTED, by=cast.alice):
        count(colony, on, mites)
    return yard


def _month(cast: Cast, low: float, *, reason: str = "", kind: str = "wash") -> RegionMonth:
    return RegionMonth.objects.create(
        region=cast.north,
        month=JULY,
        kind=kind,
        part=Part.ALL,
        yards=12,
        keepers=8,
        colonies=40,
        samples=40,
        zeros=2,
        mites=500,
        bees=12000,
        rate=None if reason else low + 0.01,
        low=None if reason else low,
        high=None if reason else low + 0.03,
        reason=reason,
        computed_at=timezone.now(),
        basis=EstimateBasis.objects.earliest("pk"),
    )


def test_coordinator_finds_what_needs_a_look(cast: Cast, client_for: Clients) -> None:
    set_sharing(membership=cast.alice.memberships.get(), shares_counts=True, by=cast.alice)
    _yard(cast, "Hill", 20)
    treated(cast.colonies[:2], on=dt.date(2026, 7, 15), saved=at("07-16"))
    _month(cast, 0.04)
    Publication.objects.create(club=cast.club, month=JULY, published_at=timezone.now())
    CountWeek.objects.create(
        club=cast.club,
        first_on=dt.date(2026, 9, 1),
        last_on=dt.date(2026, 9, 7),
        set_by=cast.dana,
        set_at=timezone.now(),
    )
    invite(club=cast.club, email="new@example.org", role=Role.MEMBER, at=timezone.now(), by=cast.dana)

    page = _page(client_for(cast.dana))

    for words in (
        "Published, and has no bulletin yet. Write a draft.",
        "Regions above the action level in Jul 2026",
        "<strong>North</strong>, Washes",
        "12,000 bees",
        "(4.0 to 7.0)",
        "Above the action level (1)",
        'Hill</a> <span class="muted">(Alice, North)</span>',
        "Recount late (1)",
        "The next one is from 1 Sep 2026 to 7 Sep 2026.",
        "1 invitation is not accepted yet.",
        "Set up a yard",
    ):
        assert words in page, words
    assert "Begin with a yard" not in page


def test_draft_that_waits_is_named_with_its_day(cast: Cast, client_for: Clients) -> None:
    Bulletin.objects.create(club=cast.club, month=JULY, words={"en-gb": []}, figures={}, made_at=at("08-10"))

    page = _page(client_for(cast.dana))

    assert "A draft, since 10 Aug 2026. Read it, then issue it." in page
    assert "Nothing waits" not in page


@pytest.mark.parametrize(("low", "reason"), [(0.005, ""), (0.0, "too_few_keepers")])
def test_region_that_could_be_either_side_or_is_hidden_is_not_called_above(
    cast: Cast, client_for: Clients, low: float, reason: str
) -> None:
    _month(cast, low, reason=reason)

    page = _page(client_for(cast.dana))

    assert "None with its whole range above it." in page
    assert "Nothing waits. The next month is published on 10 Sep 2026." in page


def test_coordinator_sees_no_yard_of_who_did_not_agree(cast: Cast, client_for: Clients) -> None:
    _yard(cast, "Hill", 20)

    page = _page(client_for(cast.dana))

    assert "Hill" not in page
    assert "None yet: you see those of members who said they may be seen." in page


def test_inspector_finds_regions_by_name_and_no_bulletin_or_members(cast: Cast, client_for: Clients) -> None:
    _yard(cast, "Hill", 20)
    _yard(cast, "Dale", 1, dt.date(2026, 5, 3))

    page = _page(client_for(cast.ines))

    for words in (
        f'<a href="/yards/?region={cast.north.pk}#seen">North</a>',
        "3 yards",
        "Above the action level (1)",
        "Recount late (0)",
        "Not counted for 60 days (2)",
        "Yards around a place",
    ):
        assert words in page, words
    for words in ("South", "Orchard", "Bulletin<", "Next count week", "invitation", "Set up a yard"):
        assert words not in page, words


def test_inspector_without_a_region_is_told_who_assigns_them(cast: Cast, client_for: Clients) -> None:
    page = _page(client_for(join(cast.club, make_person("Vera"), Role.INSPECTOR)))

    assert "No region is assigned to you yet" in page


def test_administrator_finds_what_only_they_can_mend(cast: Cast, client_for: Clients) -> None:
    join(cast.club, make_person("Vera"), Role.INSPECTOR)
    _yard(cast, "Hill", 20)

    page = _page(client_for(cast.adam))

    assert "1 inspector has no region." in page
    assert "Hill" not in page
    assert "Begin with a region" in _page(client_for(cast.zoe))


def test_who_keeps_a_yard_of_their_own_keeps_their_list(cast: Cast, client_for: Clients) -> None:
    add_yard(keeper=cast.dana, region=cast.north, name="Mine", by=cast.dana)

    assert "Add your colonies" in _page(client_for(cast.dana))


@pytest.mark.parametrize("name", ["dana", "ines", "adam"])
def test_as_many_queries_for_many_yards_as_for_few(cast: Cast, client_for: Clients, name: str) -> None:
    set_sharing(membership=cast.alice.memberships.get(), shares_counts=True, by=cast.alice)
    _yard(cast, "First", 20)
    treated(cast.colonies[:2], on=dt.date(2026, 7, 15), saved=at("07-16"))
    client = client_for(getattr(cast, name))
    asked = []
    for turn in range(2):
        client.get("/")
        with CaptureQueriesContext(connection) as found:
            client.get("/")
        asked.append(len(found))
        for number in range(3):
            yard = _yard(cast, f"More {turn} {number}", 20)
            treated(list(yard.colonies.all()), on=dt.date(2026, 7, 15), saved=at("07-16"))

    assert asked[0] == asked[1]
