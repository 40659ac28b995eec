"""Count again by, on the pages of a colony and a yard; or why no day is given."""

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apiaries.models import Brood
from apiaries.on_page import ColonyOnPage, YardOnPage
from tests.counts.counting import fill_region
from tests.treatments.making import jar, treat
from treatments.outlook_panel import colony_outlook, yard_outlook
from treatments.outlook_says import season_end

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("reference")]
JULY = dt.date(2026, 7, 1)


@pytest.fixture(autouse=True)
def _july_and_one_level(cast, reference, time_machine):
    time_machine.move_to(dt.datetime(2026, 7, 5, 10, tzinfo=dt.UTC), tick=False)
    cast.club.action_level_issuer = "us_univ_florida"  # act at 3 per 100 bees, the year round
    cast.club.save()


def _outlook(cast, colony=None):
    return colony_outlook(cast.alice, ColonyOnPage(cast.alice, colony or cast.colonies[0])).context["outlook"]


def test_day_is_told_with_its_reason_and_brood_taken_as_some(cast, client_for):
    jar(cast.colonies[0], JULY, 1, brood=Brood.UNKNOWN)
    page = client_for(cast.alice).get(reverse("apiaries:colony-detail", args=[cast.colonies[0].pk]))
    says = _outlook(cast)

    assert says.again.by >= dt.date(2026, 7, 5) and says.brood_assumed
    assert "An estimate of what could be, not a forecast." in page.content.decode()
    assert "Count again" in page.content.decode()


@pytest.mark.parametrize(
    ("on", "brood", "words"),
    [(JULY, Brood.NONE, "without brood"), (dt.date(2026, 6, 4), Brood.SOME, "more than 30 days old")],
)
def test_no_day_is_given_where_nothing_can_be_said(cast, on, brood, words):
    jar(cast.colonies[0], on, 1, brood=brood)

    assert _outlook(cast).again is None and words in _outlook(cast).reason


def test_dose_on_the_day_of_the_count_or_later_refuses(cast):
    jar(cast.colonies[0], JULY, 1, brood=Brood.SOME)
    jar(cast.colonies[1], JULY, 1, brood=Brood.SOME)
    treat([cast.colonies[0]], JULY)

    assert "a treatment" in _outlook(cast).reason
    assert _outlook(cast, cast.colonies[1]).again is not None


def test_dose_that_was_over_before_the_count_does_not(cast):
    jar(cast.colonies[0], JULY, 1, brood=Brood.SOME)
    treat([cast.colonies[0]], dt.date(2026, 6, 30))

    assert _outlook(cast).again is not None


def test_one_colony_gives_no_day_for_a_yard(cast):
    jar(cast.colonies[0], JULY, 1, brood=Brood.SOME)
    says = yard_outlook(cast.alice, YardOnPage(cast.alice, cast.alice_yard)).context["outlook"]
    assert says.again is None and "one colony" in says.reason


def test_yard_costs_no_more_queries_for_more_colonies(cast):
    jar(cast.colonies[0], JULY, 1)
    yard_outlook(
        cast.alice, YardOnPage(cast.alice, cast.alice_yard)
    )  # the club's own spread is kept for hours
    with CaptureQueriesContext(connection) as few:
        yard_outlook(cast.alice, YardOnPage(cast.alice, cast.alice_yard))
    for colony in cast.colonies[1:]:
        jar(colony, JULY, 1, brood=Brood.SOME)
    with CaptureQueriesContext(connection) as many:
        says = yard_outlook(cast.alice, YardOnPage(cast.alice, cast.alice_yard)).context["outlook"]

    assert len(few) == len(many) and says.again is not None


def test_counts_of_the_region_are_taken_into_account(cast, client_for):
    jar(cast.colonies[0], JULY, 6, brood=Brood.SOME)
    alone = _outlook(cast).again
    fill_region(cast, 3, cast.north, JULY)
    says = _outlook(cast).again
    page = client_for(cast.alice).get(reverse("apiaries:colony-detail", args=[cast.colonies[0].pk]))

    assert not alone.with_prior and says.with_prior
    assert says.by > alone.by and says.chance_now < alone.chance_now  # high rates are rare in that region
    assert "The other counts of the region and month are taken into account." in page.content.decode()


@pytest.mark.parametrize(
    ("on", "end"),
    [("2026-07-05", "2026-10-31"), ("2026-12-01", "2026-10-31"), ("2027-02-01", "2026-10-31")],
)
def test_season_ends_with_october(on, end):
    assert season_end(dt.date.fromisoformat(on)) == dt.date.fromisoformat(end)
