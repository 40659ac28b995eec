"""The season chart: apart by unit, as SVG without anything active, gated, and the same as a table."""

import datetime as dt
import re
from dataclasses import replace
from itertools import pairwise
from xml.etree import ElementTree

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apiaries.actions import add_numbered_colonies
from apiaries.on_page import YardOnPage
from counts import yards
from counts.constants import DEFAULTS
from counts.models import MiteSample
from counts.samples import Kind, Method
from counts.standing import Published
from reports import drawings, season_chart
from reports.season import season_of_colony, season_of_yard, season_on_page
from reports.season_chart import SHAPES, WIDTHS, season_svg
from reports.season_marks import Place
from tests.reports.counting import count
from tests.reports.treating import treated

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("reference")]
ON = dt.date(2026, 9, 30)
JULY = dt.date(2026, 7, 1)
STRIPS = "amitraz_strip_us"
RATE = 3.157895
"""Per 100 bees, of 9 in 300 with a wash's recovery of .95: 9 / (300 * .95) * 100."""


@pytest.fixture(autouse=True)
def _own_cache(settings, time_machine):
    settings.CACHES = {"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}}
    drawings.cache.clear()
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
    drawings.cache.clear()

    assert season_svg(season, theme="light", size="wide") == first


def parts_of(season, size="wide"):
    """What stands in each part of the chart below the treatments, row by row."""
    spec = season_chart.season_chart(season, theme="light", size=size).to_dict()
    rows = lambda layer: spec["datasets"][layer["data"]["name"]]  # noqa: E731
    parts = [part for part in spec["vconcat"] if "title" in part]
    return {part["title"]["text"]: [row for layer in part["layer"] for row in rows(layer)] for part in parts}


def marks_in(season, place, size="wide"):
    """The counts drawn in a part of the chart, once each."""
    rows = [row for row in parts_of(season, size)[season_chart.TITLES[place]] if "rate" in row]
    return [dict(row) for row in sorted({tuple(sorted(row.items())) for row in rows})]


def test_boards_have_an_axis_of_their_own(cast, colony):
    season = season_of_colony(cast.alice, colony, ON)

    assert [row["rate"] for row in marks_in(season, Place.JARS)] == [pytest.approx(RATE)]
    assert [row["rate"] for row in marks_in(season, Place.BOARDS)] == [pytest.approx(4.0)]  # 12 in 3 days


def test_what_fell_under_a_treatment_stands_apart_without_a_level(cast, colony):
    count(colony, dt.date(2026, 8, 9), 900, Method.BOARD, treatment_in_hive=True)
    season = season_of_yard(cast.alice_yard, ON)
    fall = parts_of(season)[season_chart.TITLES[Place.FALL]]

    assert {round(row["rate"], 6) for row in fall if "rate" in row} == {300.0}
    assert not [row for row in fall if "level" in row]
    assert [row["rate"] for row in marks_in(season, Place.BOARDS)] == [pytest.approx(4.0)]
    assert "Boards under a treatment: 1 shown. Last: 300.0 per day (" in season.alt


def test_each_kind_has_a_shape_of_its_own_named_in_words(cast, colony):
    count(colony, JULY, 3, Method.SUGAR_ROLL)
    drawn = season_svg(season_of_colony(cast.alice, colony, ON), theme="light", size="wide")
    legend = r'role-legend-symbol"[^>]*><path[^>]* d="([^"]+)"[^>]* stroke="(#\w+)".*?<text[^>]*>(\w+)</text>'
    found = {word: (shape, line) for shape, line, word in re.findall(legend, drawn)}

    assert len(set(SHAPES.values())) == len(SHAPES) == 4
    assert found.keys() == {"Wash", "Roll", "Board"}
    assert len({shape for shape, _ in found.values()}) == 3
    assert {line for _, line in found.values()} == {season_chart.THEMES["light"]["ink"]}


def test_one_colony_of_several_shows_its_own_range_and_says_so(cast, colony):
    kept = MiteSample.objects.get(colony=colony, method=Method.ALCOHOL_WASH)
    season = season_of_yard(cast.alice_yard, ON)
    (wash,) = season.drawn_in(Place.JARS)

    assert (wash.rate, wash.low, wash.high) == pytest.approx((RATE, kept.low * 100, kept.high * 100))
    assert wash.alone and wash.note == "colony 1 only, which cannot speak for the yard"
    assert wash.raw == "9 in 300 bees from 1 of 6 colonies"
    assert [row["alone"] for row in marks_in(season, Place.JARS)] == [True]
    assert wash.note in season.alt


def test_two_jars_of_the_only_colony_are_one_sample_of_it(cast):
    for mites in (9, 3):
        count(cast.colonies[0], JULY, mites)
    (wash,) = season_of_yard(cast.alice_yard, ON).points

    assert wash.alone and wash.rate == pytest.approx(12 / (600 * 0.95) * 100)
    assert wash.low < wash.rate < wash.high


def test_the_only_colony_of_a_yard_speaks_for_it(cast):
    yard = cast.charlie_yard
    lone, gone = yard.colonies.all()
    gone.ended_on = JULY - dt.timedelta(days=1)
    gone.save()
    count(lone, JULY, 9)
    (wash,) = season_of_yard(yard, ON).points

    assert not wash.alone and wash.note == "" and wash.raw == "9 in 300 bees from 1 of 1 colonies"


def test_several_colonies_of_a_day_are_one_mean_with_its_range(cast, colony):
    for other in cast.colonies[1:4]:
        count(other, JULY, 3)
    (wash,) = season_of_yard(cast.alice_yard, ON).drawn_in(Place.JARS)

    assert wash.low < wash.rate < wash.high and not wash.alone and wash.note == ""
    assert wash.raw == "18 in about 1,200 bees from 4 of 6 colonies"


def test_mean_of_the_newest_day_is_that_of_the_yards_page(cast, colony, monkeypatch):
    own = replace(DEFAULTS, between_c2=replace(DEFAULTS.between_c2, value=0.2))
    for other in cast.colonies[1:4]:
        count(other, JULY, 3)
    for module in ("reports.season", "counts.yards"):
        monkeypatch.setattr(f"{module}.constants_of_club", lambda club_id: own)
    visible = MiteSample.objects.visible_to(cast.alice).standing()
    says = yards.yard_says(cast.alice_yard, visible, Published(), living=6)
    (wash,) = season_of_yard(cast.alice_yard, ON).drawn_in(Place.JARS)

    assert (wash.rate, wash.low, wash.high) == pytest.approx((says.rate, says.low, says.high))


def test_boards_of_a_day_are_one_mean_that_holds_what_differs_between_colonies(cast, colony):
    count(cast.colonies[1], dt.date(2026, 7, 20), 40, Method.BOARD)
    alone = season_of_colony(cast.alice, colony, ON).drawn_in(Place.BOARDS)[0]
    (mean,) = season_of_yard(cast.alice_yard, ON).drawn_in(Place.BOARDS)

    assert mean.rate == pytest.approx(52 / 6)
    assert mean.raw == "52 on 2 boards, 6 days in all, from 2 of 6 colonies"
    assert mean.note == "2 colonies only, very rough"
    assert mean.high / mean.low > alone.high / alone.low > 1


def test_what_has_no_estimate_is_named_and_left_out(cast, colony):
    count(cast.colonies[1], dt.date(2026, 7, 20), 3, Method.BOARD, cells_counted=36, cells_total=108)
    count(cast.colonies[2], dt.date(2026, 7, 21), 3, Method.BOARD, cells_counted=36, cells_total=108)
    boards = [p for p in season_of_yard(cast.alice_yard, ON).points if p.kind is Kind.BOARD]

    assert boards[0].note.endswith("left out: colony 2 (too few mites on a part)")
    assert boards[0].raw == "12 in 3 days from 1 of 6 colonies"
    assert (boards[1].rate, boards[1].note) == (None, "colony 3 (too few mites on a part)")
    assert boards[1].raw == "3 in 3 days on 36 of 108 cells"


@pytest.mark.parametrize("size", WIDTHS)
def test_counts_of_one_day_stand_side_by_side_around_it(cast, size):
    for method in (Method.ALCOHOL_WASH, Method.SOAP_WASH, Method.SUGAR_ROLL):
        count(cast.colonies[0], JULY, 9, method)
    season = season_of_colony(cast.alice, cast.colonies[0], ON)
    places = sorted(row["on"] for row in marks_in(season, Place.JARS, size))
    noon = dt.datetime(2026, 7, 1, 12, tzinfo=dt.UTC).timestamp() * 1000
    shown = (season.until - season.begins).days + 1
    apart = [(later - one) / season_chart.DAY / shown * WIDTHS[size] for one, later in pairwise(places)]

    assert sum(places) / 3 == pytest.approx(noon, abs=2)
    assert min(apart) > 0.8 * season_chart.MARK[1]  # no bar covers another


def test_many_counts_are_drawn_smaller(cast):
    for days in range(40):
        count(cast.colonies[0], JULY + dt.timedelta(days=days), 9)
    season = season_of_colony(cast.alice, cast.colonies[0], ON)
    drawn = season.drawn_in(Place.JARS)

    assert season_chart._across(drawn[:3], WIDTHS["narrow"]) == season_chart.MARK[1]
    assert season_chart._across(drawn, WIDTHS["narrow"]) < season_chart._across(drawn, WIDTHS["wide"])


def test_drawing_begins_with_the_first_count_but_shows_half_a_year(cast, colony):
    assert season_of_colony(cast.alice, colony, ON).begins == dt.date(2026, 4, 1)
    count(colony, dt.date(2025, 11, 20), 3, Method.BOARD)
    assert season_of_colony(cast.alice, colony, ON).begins == dt.date(2025, 11, 1)


def test_action_level_is_one_line_and_told_with_the_table(cast, colony, client_for):
    season = season_of_colony(cast.alice, colony, ON)
    lines = [row for row in parts_of(season)[season_chart.TITLES[Place.JARS]] if "level" in row]
    page = client_for(cast.alice).get(reverse("apiaries:colony-detail", args=[colony.pk])).content.decode()

    assert len(lines) == 1
    told = [span.told for span in season.shown_levels if span.place is Place.JARS]
    assert told == [f"{lines[0]['level']:g} per 100 bees from 1 Apr 2026 to 30 Sep 2026"]
    assert told[0] in page and told[0] in season.alt


@pytest.mark.parametrize("way", ["taken out", "never noted as out"])
def test_treatment_is_found_however_long_ago_it_began(cast, way):
    began = ON - dt.timedelta(days=800)
    add = add_numbered_colonies(
        yard=cast.alice_yard, first=30, last=30, started_on=began - dt.timedelta(days=9), by=cast.alice
    )
    out_on = ON - dt.timedelta(days=500) if way == "taken out" else None
    treated(add, on=began, out_on=out_on, way=STRIPS)
    for season in (
        season_of_colony(cast.alice, add[0], ON),
        season_of_yard(cast.alice_yard, ON),
    ):
        (band,) = season.bands
        assert (band.first, band.last, band.open) == (began, out_on or ON, out_on is None)


def test_treatment_out_again_before_the_season_is_left_out(cast):
    began = ON - dt.timedelta(days=800)
    treated([cast.colonies[0]], on=began, out_on=ON - dt.timedelta(days=549), way=STRIPS)
    treated([cast.colonies[0]], on=began)

    assert season_of_yard(cast.alice_yard, ON).bands == []


def test_treatment_of_other_colonies_is_no_band_of_this_one(cast, colony):
    treated([cast.colonies[1]], on=dt.date(2026, 7, 10))

    assert [band.first for band in season_of_colony(cast.alice, colony, ON).bands] == [dt.date(2026, 8, 6)]
    assert len(season_of_yard(cast.alice_yard, ON).bands) == 2


def test_counts_before_the_season_are_left_out(cast):
    count(cast.colonies[0], ON - dt.timedelta(days=549), 5)
    count(cast.colonies[0], ON - dt.timedelta(days=548), 5)

    assert len(season_of_colony(cast.alice, cast.colonies[0], ON).points) == 1


def test_season_on_a_yards_page_is_the_same(cast, colony):
    for number, other in enumerate(cast.colonies[1:]):
        count(other, JULY + dt.timedelta(days=number), 3)
        count(other, dt.date(2026, 7, 20), 3 + number, Method.BOARD)
        treated([other], on=dt.date(2026, 7, 25 + number))
    treated(cast.colonies[:1], on=dt.date(2026, 7, 1), way="formic_other_any")
    count(cast.colonies[0], ON - dt.timedelta(days=549), 5)
    page = YardOnPage(cast.alice, cast.alice_yard)

    shown, alone = season_on_page(page, ON), season_of_yard(cast.alice_yard, ON)

    assert (shown.points, shown.bands, shown.levels) == (alone.points, alone.bands, alone.levels)
    assert len(shown.bands) >= 6 and any(band.open for band in shown.bands)


def test_reading_costs_no_more_for_more_counts(cast, colony, django_assert_num_queries):
    season_of_yard(cast.alice_yard, ON)  # the club's spread is kept for hours
    with CaptureQueriesContext(connection) as few:
        season_of_yard(cast.alice_yard, ON)
    for number, other in enumerate(cast.colonies[1:]):
        count(other, JULY + dt.timedelta(days=number), 3)
        count(other, dt.date(2026, 7, 20), 3 + number, Method.BOARD)
        treated([other], on=dt.date(2026, 7, 25 + number))

    with django_assert_num_queries(len(few)):
        season_of_yard(cast.alice_yard, ON)


def test_reading_a_colony_costs_no_more_for_more_counts(cast, colony, django_assert_num_queries):
    with CaptureQueriesContext(connection) as few:
        season_of_colony(cast.alice, colony, ON)
    for days in range(1, 5):
        count(colony, JULY + dt.timedelta(days=days), 3)
        treated([colony], on=dt.date(2026, 7, 20 + days))

    with django_assert_num_queries(len(few)):
        season_of_colony(cast.alice, colony, ON)


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


@pytest.mark.parametrize("way", ["formic_gel_strip_us", "formic_pad_ca"])
def test_treatment_never_noted_as_out_is_found_whatever_its_label_says(cast, way):
    treated([cast.colonies[0]], on=ON - dt.timedelta(days=700), way=way)
    (band,) = season_of_colony(cast.alice, cast.colonies[0], ON).bands

    assert band.open and band.last == ON
