"""Yards somebody may see beside their own: what is known of each, in which order, and how the list is narrowed."""

import datetime as dt
import re
from collections.abc import Callable
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from apiaries.actions import add_numbered_colonies, add_yard, change_role
from apiaries.models import Person, Yard
from apiaries.permissions import Role
from reports.known_yards import STALE_DAYS
from tests.cast import STARTED, Cast
from tests.reports.counting import count
from tests.reports.treating import at, treated

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("reference")]
ON = dt.date(2026, 8, 22)
NAMED = re.compile(r'<th scope="row">\s*<a href="/yards/\d+/">([^<]+)</a>')


@pytest.fixture(autouse=True)
def late_august() -> Any:
    with time_machine.travel(dt.datetime(2026, 8, 22, 9, tzinfo=dt.UTC), tick=False):
        yield


@pytest.fixture
def ines(client_for: Callable[[Person | None], Client], cast: Cast) -> Client:
    """She inspects both regions."""
    change_role(
        role=Role.INSPECTOR,
        membership=cast.ines.memberships.get(),
        regions=[cast.north, cast.south],
        by=cast.adam,
    )
    return client_for(cast.ines)


def _yard(cast: Cast, name: str, mites: int | None = None, on: dt.date = ON) -> Yard:
    yard = add_yard(keeper=cast.alice, region=cast.north, name=name, by=cast.alice)
    colonies = add_numbered_colonies(yard=yard, first=1, last=3, started_on=STARTED, by=cast.alice)
    for colony in colonies if mites is not None else []:
        count(colony, on, mites or 0)
    return yard


def _names(client: Client, **asked: object) -> list[str]:
    return NAMED.findall(client.get("/yards/", asked).content.decode())


def test_most_to_look_at_comes_first(cast: Cast, ines: Client) -> None:
    _yard(cast, "Low lately", 1)
    _yard(cast, "Low in May", 1, dt.date(2026, 5, 3))
    _yard(cast, "High", 15)
    _yard(cast, "Higher", 30)
    treated(cast.colonies[:2], on=dt.date(2026, 7, 15), saved=at("07-16"))  # Home yard: its recount is late

    names = _names(ines)

    assert names[:3] == ["Higher", "High", "Home yard"]
    assert names[-2:] == ["Low in May", "Low lately"]


def test_each_row_tells_day_rate_range_bees_and_standing_in_words(cast: Cast, ines: Client) -> None:
    _yard(cast, "High", 15, dt.date(2026, 8, 20))

    page = " ".join(ines.get("/yards/", {"name": "high"}).content.decode().split())

    assert "20 Aug 2026" in page
    assert "45 mites in about 900 bees" in page or "45 in about 900 bees from 3 of 3 colonies" in page
    assert "Above action level" in page and "per 100 bees" in page
    assert "Alice, North" in page
    assert "1 of 3 yards." in page


def test_list_is_narrowed_by_region_state_and_name(cast: Cast, ines: Client) -> None:
    _yard(cast, "High", 15)
    _yard(cast, "Old", 1, ON - dt.timedelta(days=STALE_DAYS + 1))
    _yard(cast, "Lately", 1, ON - dt.timedelta(days=STALE_DAYS))

    assert _names(ines, region=cast.south.pk) == ["Orchard"]
    assert _names(ines, show="above") == ["High"]
    assert sorted(_names(ines, show="stale")) == ["Home yard", "Old", "Orchard"]  # two were never counted
    assert _names(ines, name="CHARLIE") == ["Orchard"]
    assert _names(ines, name="nowhere") == []
    assert "No yard fits" in ines.get("/yards/", {"name": "nowhere"}).content.decode()


@pytest.mark.parametrize("asked", [{"region": "x"}, {"show": "x"}, {"region": "9" * 40}, {"name": "\0"}])
def test_what_cannot_be_read_is_said(cast: Cast, ines: Client, asked: dict[str, str]) -> None:
    page = ines.get("/yards/", asked)

    assert page.status_code == 200
    assert "There is a problem" in page.content.decode()


def test_own_yards_stand_apart_and_are_not_among_those_seen(
    cast: Cast, client_for: Callable[[Person | None], Client]
) -> None:
    page = client_for(cast.alice).get("/yards/").content.decode()
    assert "Your yards" in page and "Yards you may see" not in page

    page = client_for(cast.bob).get("/yards/").content.decode()
    assert "Yards you help in" in page and "Yards you may see" not in page


def test_as_many_queries_for_many_yards_as_for_few(cast: Cast, ines: Client) -> None:
    _yard(cast, "First", 5)
    treated(cast.colonies[:2], on=dt.date(2026, 7, 15), saved=at("07-16"))
    asked = []
    for turn in range(2):
        ines.get("/yards/")
        with CaptureQueriesContext(connection) as found:
            ines.get("/yards/")
        asked.append(len(found))
        for number in range(5):
            yard = _yard(cast, f"More {turn} {number}", 5 + number)
            treated(list(yard.colonies.all()), on=dt.date(2026, 7, 15), saved=at("07-16"))

    assert asked[0] == asked[1]
