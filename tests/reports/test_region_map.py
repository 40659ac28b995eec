"""The map of a month: a plain picture, links that lie over it, a slider without JavaScript, and its table."""

import datetime as dt
import re
from xml.etree import ElementTree

import h3
import pytest
from django.core.cache import cache
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import given
from hypothesis import strategies as st

from apiaries.models import Yard
from reports import map_chart, region_map
from reports.charts import THEMES
from reports.figures import refresh_marked
from reports.map_shapes import EDGE, HIGH, WIDE, laid_out, middle_shape, shared_out
from reports.models import AreaMonth, YardMonth
from reports.rollup import mark_regions
from tests.reports.contrast import colours_of, too_pale
from tests.reports.counting import AT, count

PAGE, MAP = "/regions/", "/regions/map.svg"
HERE, THERE = h3.latlng_to_cell(43.6, -77.9, 5), h3.latlng_to_cell(43.6, -76.9, 5)
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture
def mapped(cast, keeper_in, reference, time_machine):
    """Two pieces in North in August, and nothing in July."""
    time_machine.move_to(AT)
    for number, name in enumerate(("Kim", "Lee", "Mia", "Noa", "Oda")):
        for yard, cell in zip(keeper_in(name, cast.north, 2), (HERE, THERE), strict=True):
            Yard.objects.filter(pk=yard.pk).update(cell=cell)
            count(yard.colonies.first(), dt.date(2026, 8, 5), number + (10 if cell == THERE else 0))
    refresh_marked(at=AT)


def _page(client, **asked):
    response = client.get(PAGE, {"year": 2026} | asked)
    assert response.status_code == 200
    return response.content.decode()


def _words(page):
    return " ".join(re.sub(r"<[^>]+>", " ", page).split())


def test_pieces_stand_on_the_map_and_in_the_table_with_range_and_bees(client_for, cast, mapped):
    page = _page(client_for(cast.dana))
    words = _words(page)

    assert "The map of a month: Aug 2026" in words
    told = r"0\.7 \? uncertain \d\.\d to \d\.\d levelled \d\.\d 1,500 bees 5 counts, 1 with no mite"
    assert re.search(f"North, a part {told} 5 keepers, 5 yards", words)
    assert len(re.findall(r'<a href="#area-\d" class="map-area"[^>]+><path d="M[^"]+Z"/></a>', page)) == 2
    assert page.count('id="area-1"') == page.count('id="more-1"') == 1


def test_the_slider_is_a_form_with_links_and_says_its_month(client_for, cast, mapped):
    page = _page(client_for(cast.dana), map=8, compare=2025)

    assert re.search(
        r'<input type="range" id="map-month" name="map" min="1" max="9" step="1" value="8"', page
    )
    assert 'aria-valuetext="Aug 2026"' in page
    for month in (7, 9):
        assert f"&amp;map={month}#map" in page
    form = re.search(r'<form method="get" action="#map".*?</form>', page, re.S)[0]
    assert '<button class="button button--second" type="submit">' in form
    assert '<input type="hidden" name="kind" value="wash">' in form


@pytest.mark.parametrize("month", ["7", "1"])
def test_a_month_without_areas_says_so(client_for, cast, mapped, month):
    client = client_for(cast.dana)

    assert "has figures that may be shown" in _words(_page(client, map=month))
    drawn = client.get(MAP, {"year": 2026, "map": month})
    assert drawn.status_code == 200 and "</text>" not in drawn.content.decode()


@pytest.mark.parametrize("odd", ["0", "13", "x", "-1", "\u0663", "1e1", "999999999999"])
def test_odd_months_are_the_usual_one(client_for, cast, mapped, odd):
    assert "The map of a month: Aug 2026" in _words(_page(client_for(cast.dana), map=odd))


def test_there_is_no_map_of_a_part_of_the_yards(client_for, cast, mapped):
    client = client_for(cast.dana)

    assert "There is no map" in _page(client, part="not_treated")
    assert client.get(MAP, {"year": 2026, "part": "not_treated"}).status_code == 404


def test_with_many_regions_each_is_one_area(client_for, cast, mapped, monkeypatch):
    monkeypatch.setattr(region_map, "PIECES_UP_TO", 1)
    client = client_for(cast.dana)

    whole = _words(_page(client))
    assert "a part 0.7" not in whole and "10 keepers" not in whole and "5 keepers, 10 yards" in whole
    assert "North, a part" in _words(_page(client, region=cast.north.pk))


def test_picture_is_plain_and_as_large_as_what_lies_over_it(client_for, cast, mapped):
    client = client_for(cast.dana)
    over = re.search(r'<svg class="map-over" viewBox="0 0 1000 ([\d.]+)"', _page(client))[1]
    for theme in THEMES:
        for size, width in (("wide", 680), ("narrow", 330)):
            drawn = client.get(MAP, {"year": 2026, "theme": theme, "size": size}).content.decode()
            root = ElementTree.fromstring(drawn)
            assert (float(root.get("width")), float(root.get("height"))) == (
                width,
                round(float(over) * width / 1000),
            )
            assert not {f"{SVG}script", f"{SVG}foreignObject", f"{SVG}image"} & {
                one.tag for one in root.iter()
            }
            assert not re.search(r"\son\w+=|javascript:|https?://(?!www\.w3\.org/)", drawn)
            assert {"0.7", "(1)", "(2)"} <= {"".join(one.itertext()) for one in root.iter(f"{SVG}text")}
    assert client.get(MAP, {"year": 2026, "theme": "pink"}).status_code == 404


def test_a_region_whose_yards_are_all_in_one_piece_is_shown_whole(client_for, cast, mapped):
    north = YardMonth.objects.filter(region=cast.north, month=dt.date(2026, 8, 1))
    Yard.objects.filter(pk__in=north.values("yard")).update(cell=THERE)
    mark_regions([(cast.north.pk, dt.date(2026, 8, 1))])
    refresh_marked(at=AT)
    page = _page(client_for(cast.dana))

    assert AreaMonth.objects.exclude(piece="").get().yards == north.count()
    assert "North, a part" not in page
    assert re.search(r'<th scope="row">1 <a href="[^"]+">North</a>', page)


def test_corners_of_the_picture_are_those_of_the_links(client_for, cast, mapped):
    client = client_for(cast.dana)
    outline = re.search(r'class="map-area"[^>]+><path d="M([\d.]+) ([\d.]+)L', _page(client))
    drawn = client.get(MAP, {"year": 2026}).content.decode()
    starts = re.findall(r'd="M(-?[\d.]+),(-?[\d.]+)L', drawn)

    wanted = tuple(float(one) * 0.68 for one in outline.groups())
    assert any((float(x), float(y)) == pytest.approx(wanted, abs=0.01) for x, y in starts)


def test_the_map_costs_one_query_and_no_more_with_more_areas(client_for, cast, mapped, keeper_in):
    client = client_for(cast.dana)
    client.get("/regions/")  # reads who is asking, once
    cache.clear()
    with CaptureQueriesContext(connection) as few:
        _page(client)
    asked = len(few)
    for name in ("Pia", "Quin", "Ria", "Sam", "Tom"):
        for yard in keeper_in(name, cast.south):
            Yard.objects.filter(pk=yard.pk).update(cell=THERE)
            count(yard.colonies.first(), dt.date(2026, 8, 5), 3)
    refresh_marked(at=AT)
    with CaptureQueriesContext(connection) as many:
        page = _page(client)

    assert len(many) == asked
    assert sum("reports_areamonth" in query["sql"] for query in many) == 1
    # South's cell is North's piece already: it has a line in the table, not a second colour.
    assert "not on the map" in page


@given(st.floats(-80, 80), st.floats(-180, 180), st.integers(3, 5), st.integers(0, 3))
def test_cells_lie_on_the_sheet_with_north_up_also_over_the_date_line(
    latitude, longitude, resolution, around
):
    middle = h3.latlng_to_cell(latitude, longitude, resolution)
    sheet = laid_out(sorted(h3.grid_disk(middle, around)))

    assert HIGH[0] <= sheet.high <= HIGH[1]
    for shape in sheet.shapes.values():
        for x, y in shape.corners:
            assert EDGE - 0.2 <= x <= WIDE - EDGE + 0.2
            assert EDGE - 0.2 <= y <= sheet.high - EDGE + 0.2
    north = max(sheet.shapes, key=lambda cell: h3.cell_to_latlng(cell)[0])
    south = min(sheet.shapes, key=lambda cell: h3.cell_to_latlng(cell)[0])
    assert sheet.shapes[north].middle[1] <= sheet.shapes[south].middle[1]
    assert middle_shape(list(sheet.shapes.values())) in sheet.shapes.values()


def test_cells_keep_their_proportions():
    # One cell is about as wide as high, wherever it lies (H3 documentation: hexagons).
    for latitude in (0.0, 45.0, 65.0):
        (shape,) = laid_out([h3.latlng_to_cell(latitude, 20.0, 5)]).shapes.values()
        wide, high = (max(one) - min(one) for one in zip(*shape.corners, strict=True))
        assert 0.7 < wide / high < 1.4


def test_a_cell_is_drawn_for_the_finest_area_around_it_then_for_the_most_yards():
    coarse = h3.cell_to_parent(HERE, 4)
    children = set(h3.cell_to_children(coarse, 5))
    fine, around, other = shared_out([([HERE], 5), ([coarse], 20), ([coarse, THERE], 30)])

    assert fine == [HERE] and around == [] and set(other) == children - {HERE} | {THERE}


def test_words_are_left_out_where_areas_are_too_near(client_for, cast, mapped, monkeypatch):
    monkeypatch.setattr(map_chart, "ROOM", {"wide": 2000, "narrow": 2000})
    drawn = client_for(cast.dana).get(MAP, {"year": 2026}).content.decode()

    assert "(1)" in drawn and "0.7" not in re.findall(r">([^<]+)</text>", drawn)


def test_nothing_laid_out_is_an_empty_sheet():
    assert laid_out([]).shapes == {}


@pytest.mark.parametrize("theme", THEMES)
def test_marks_and_words_of_the_map_stand_out(client_for, cast, mapped, theme):
    svg = (
        client_for(cast.dana)
        .get(MAP, {"year": 2026, "map": 8, "theme": theme, "size": "wide"})
        .content.decode()
    )

    assert len(colours_of(svg)) >= 3
    assert too_pale(svg, theme) == set()
