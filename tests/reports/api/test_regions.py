"""Region figures as other programs read them: what the page of published months shows, to nobody more of it."""

import datetime as dt
import json
from typing import Any

import pytest
import time_machine

from apiaries.actions import add_region
from apiaries.models import Club
from counts.samples import Method
from reports.figures import refresh_marked
from reports.models import RegionMonth
from reports.publishing import publish_due
from tests.api_asking import Program
from tests.cast import Cast
from tests.reports.counting import AT, count

pytestmark = pytest.mark.django_db
AUGUST = 7  # its place in a year


@pytest.fixture
def published(reference: None, cast: Cast, counted_north: Any) -> None:
    """August 2026: North can be shown, South has one yard, and nobody counted in East."""
    Club.objects.update(founded_at=dt.datetime(2026, 6, 15, 12, tzinfo=dt.UTC))
    add_region(club=cast.club, name="East", by=cast.adam)
    count(cast.charlie_yard.colonies.first(), dt.date(2026, 8, 5), 4)
    refresh_marked(at=AT)
    publish_due(at=AT)


@pytest.fixture(autouse=True)
def in_autumn():
    with time_machine.travel(AT, tick=False):
        yield


def _months(person: Any, region: Any, question: str = "") -> dict[str, Any]:
    answer = Program(person).ask(f"regions/{region.pk}/months/{question}")
    assert answer.status_code == 200, answer.content
    return answer.json()


def test_figure_as_it_was_published(published: None, cast: Cast) -> None:
    told = _months(cast.alice, cast.north)

    assert (told["region"], told["kind"], told["year"]) == (
        {"id": cast.north.pk, "name": "North"},
        "wash",
        2026,
    )
    assert (told["unit"], told["next_published_on"]) == ("per_100_bees", "2026-10-10")
    august = told["items"][AUGUST]
    assert (august["month"], august["state"], august["hidden_because"]) == ("2026-08-01", "published", None)
    row = RegionMonth.objects.get(region=cast.north, month="2026-08-01", kind="wash", frozen_at__isnull=False)
    figure = august["figure"]
    assert (figure["rate"], figure["low"], figure["high"]) == tuple(
        round(one * 100, 1) for one in (row.rate, row.low, row.high)
    )
    assert figure["low"] <= figure["rate"] <= figure["high"] and figure["level"] == 0.95
    assert (figure["keepers"], figure["yards"], figure["counts"]) == ("5–9", "5–9", "10–19")
    assert (figure["about_bees"], figure["about_board_days"]) == (3000, None)
    share = figure["yards_above"]
    assert share["level_rate"] == 3 and share["source"] and share["low"] < share["high"]


def test_hidden_unpublished_and_uncounted_say_so_and_nothing_else(published: None, cast: Cast) -> None:
    east = cast.club.regions.get(name="East")

    south, none, january = (
        _months(cast.alice, region)["items"][place]
        for region, place in ((cast.south, AUGUST), (east, AUGUST), (cast.north, 0))
    )

    assert (south["state"], south["hidden_because"], south["figure"]) == ("hidden", "too_few_keepers", None)
    assert (none["state"], none["hidden_because"], none["figure"]) == ("no_samples", None, None)
    assert (january["state"], january["published_at"], january["figure"]) == ("not_published", None, None)


def test_nobody_gets_more_than_the_page_shows(published: None, cast: Cast, client_for: Any) -> None:
    """Counts logged after a month was published change the live figures, which coordinators see on their page."""
    for yard in cast.club.yards.filter(region=cast.north):
        count(yard.colonies.first(), dt.date(2026, 8, 6), 30)
    refresh_marked(at=AT)
    people = (cast.alice, cast.dana, cast.ines, cast.ivan, cast.adam)

    answers = {json.dumps(_months(person, cast.north)) for person in people}

    assert len(answers) == 1
    page = client_for(cast.alice).get("/regions/published/").content.decode()
    figure = json.loads(answers.pop())["items"][AUGUST]["figure"]
    assert f"<strong>{figure['rate']}</strong> ({figure['low']}" in page
    assert f"{figure['yards_above']['share']} of yards above".replace("<", "&lt;") in page


def test_exact_numbers_are_in_no_answer(published: None, cast: Cast) -> None:
    row = RegionMonth.objects.get(region=cast.north, month="2026-08-01", kind="wash", frozen_at__isnull=False)

    figure = _months(cast.adam, cast.north)["items"][AUGUST]["figure"]

    bands = {
        name: figure[name] for name in ("keepers", "yards", "colonies", "counts", "counts_without_mites")
    }
    assert all(isinstance(band, str) for band in bands.values())
    assert "mites" not in figure and "shares" not in figure
    assert len(str(figure["rate"])) <= 4 and (row.bees, row.mites) == (3000, 60)


def test_kinds_are_never_mixed(published: None, cast: Cast) -> None:
    assert {one["state"] for one in _months(cast.alice, cast.north, "?kind=roll")["items"]} == {
        "not_published", "no_samples",
    }  # fmt: skip
    assert _months(cast.alice, cast.north, "?kind=board")["unit"] == "per_day"
    assert Method.BOARD.value == "board"


def test_other_years_have_nothing_published(published: None, cast: Cast) -> None:
    assert {one["state"] for one in _months(cast.alice, cast.north, "?year=2025")["items"]} == {
        "not_published"
    }
    assert _months(cast.alice, cast.north, "?year=2027")["items"] == []


@pytest.mark.parametrize("question", ["kind=drone_brood", "kind=x", "year=26", "year=0000", "year=9999", "part=all",
                                      "year=2026&year=2025", "level=x", "limit=3"])  # fmt: skip
def test_odd_questions_are_refused_by_name(cast: Cast, question: str) -> None:
    answer = Program(cast.alice).ask(f"regions/{cast.north.pk}/months/?{question}")

    assert answer.status_code == 400
    assert [fault["name"] for fault in answer.json()["fields"]] == [question.split("=")[0]]


def test_regions_are_those_of_the_own_club(cast: Cast) -> None:
    theirs = add_region(club=cast.zoe.membership.club, name="Far", by=cast.zoe)

    def names(person: Any) -> list[str]:
        return [one["name"] for one in Program(person).ask("regions/").json()["items"]]

    assert names(cast.charlie) == names(cast.dana) == names(cast.ines) == ["South", "North"]
    assert names(cast.zoe) == ["Far"]
    answers = [
        Program(cast.alice).ask(f"regions/{pk}/{rest}")
        for pk in (theirs.pk, 10**9, 10**30)
        for rest in ("", "months/")
    ]
    assert {answer.status_code for answer in answers} == {404}
    assert len({answer.content for answer in answers}) == 1


def test_number_of_queries_does_not_grow_with_months(
    published: None, cast: Cast, django_assert_max_num_queries
) -> None:
    program, path = Program(cast.alice), f"regions/{cast.north.pk}/months/"
    program.ask(path)  # the hour of use is kept by now
    with django_assert_max_num_queries(20):
        program.ask(path)
