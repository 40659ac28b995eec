"""The season chart: apart by unit, as SVG without anything active, gated, and the same as a table."""

import datetime as dt
import re
from xml.etree import ElementTree

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from counts.samples import Method
from reports import season_chart
from reports.season import ONE_COLONY, season_of_colony, season_of_yard
from reports.season_chart import WIDTHS, season_svg
from tests.reports.counting import count
from tests.reports.treating import treated

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("reference")]
ON = dt.date(2026, 9, 30)
JULY = dt.date(2026, 7, 1)
RATE = 3.157895
"""Per 100 bees, of 9 in 300 with a wash's recovery of .95: 9 / (300 * .95) * 100."""


@pytest.fixture(autouse=True)
def _own_cache(settings, time_machine):
    settings.CACHES = {"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}}
    season_chart.cache.clear()
    time_machine.move_to(dt.datetime(2026, 9, 30, 10, tzinfo=dt.UTC), tick=False)


@pytest.fixture
def colony(cast):
    colony = cast.colonies[0]
    count(colony, JULY, 9)
    count(colony, dt.date(2026, 7, 20), 12, Method.BOARD)
    treated([colony])
    return colony


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("size", WIDTHS)
def test_chart_is_well_formed_has_nothing_active_and_names_the_ingredient(cast, colony, theme, size):
    drawn = season_svg(season_of_colony(cast.alice, colony, ON), theme=theme, size=size)
    words = "".join(ElementTree.fromstring(drawn).itertext())

    assert not re.search(r"<script|<foreignObject|\son\w+=|javascript:|https?://(?!www\.w3\.org/)", drawn)
    assert "Oxalic acid" in words
    assert "Mites per 100 bees" in words and "Mites per day (boards)" in words


def test_chart_is_the_same_every_time_it_is_drawn(cast, colony):
    season = season_of_colony(cast.alice, colony, ON)
    first = season_svg(season, theme="light", size="wide")
    season_chart.cache.clear()

    assert season_svg(season, theme="light", size="wide") == first


def drawn_from(spec, layer):
    return spec["datasets"][layer["data"]["name"]]


def test_boards_have_an_axis_of_their_own(cast, colony):
    season = season_of_colony(cast.alice, colony, ON)
    spec = season_chart.season_chart(season, theme="light", size="wide").to_dict()
    rates = [
        [row["rate"] for layer in part["layer"] for row in drawn_from(spec, layer) if "rate" in row]
        for part in spec["vconcat"][1:]
    ]

    assert {round(rate, 6) for rate in rates[0]} == {RATE}
    assert {round(rate, 9) for rate in rates[1]} == {4.0}  # 12 in 3 days


def test_one_colony_of_several_has_a_mark_without_the_yards_range(cast, colony):
    (wash,) = [p for p in season_of_yard(cast.alice, cast.alice_yard, ON).points if not p.on_board]

    assert (wash.rate, wash.low, wash.high, wash.note) == (pytest.approx(RATE), None, None, ONE_COLONY)


def test_several_colonies_of_a_day_are_one_mean_with_its_range(cast, colony):
    for other in cast.colonies[1:4]:
        count(other, JULY, 3)
    (wash,) = [p for p in season_of_yard(cast.alice, cast.alice_yard, ON).points if not p.on_board]

    assert wash.low < wash.rate < wash.high
    assert wash.raw == "18 in about 1,200 bees from 4 of 6 colonies"


def test_counts_before_the_season_are_left_out(cast):
    count(cast.colonies[0], ON - dt.timedelta(days=549), 5)
    count(cast.colonies[0], ON - dt.timedelta(days=548), 5)

    assert len(season_of_colony(cast.alice, cast.colonies[0], ON).points) == 1


def test_reading_costs_no_more_for_more_counts(cast, colony, django_assert_num_queries):
    with CaptureQueriesContext(connection) as few:
        season_of_yard(cast.alice, cast.alice_yard, ON)
    for number, other in enumerate(cast.colonies[1:]):
        count(other, JULY + dt.timedelta(days=number), 3)
        treated([other], on=dt.date(2026, 7, 25 + number))

    with django_assert_num_queries(len(few)):
        season_of_yard(cast.alice, cast.alice_yard, ON)


@pytest.mark.parametrize("page", ["colony", "yard"])
def test_chart_is_served_to_those_who_see_the_page_and_told_as_a_table(cast, colony, client_for, page):
    pk = colony.pk if page == "colony" else cast.alice_yard.pk
    url, detail = reverse(f"reports:{page}-chart", args=[pk]), reverse(f"apiaries:{page}-detail", args=[pk])
    answer = client_for(cast.alice).get(url)
    shown = client_for(cast.alice).get(detail).content.decode()

    assert answer["Content-Type"] == "image/svg+xml" and "private" in answer["Cache-Control"]
    assert client_for(cast.charlie).get(url).status_code == 404
    assert client_for(cast.alice).get(url, {"theme": "x"}).status_code == 404
    assert url in shown and "The same as a table" in shown and "12 in 3 days" in shown
