"""Region by month can be asked for a part of the yards, another level, another year; and says what is unusual."""

import datetime as dt
import re
from dataclasses import replace
from urllib.parse import urlencode

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from reports.figures import refresh_marked
from reports.models import RegionMonth
from reports.parts import Part
from reports.region_cells import Cell
from tests.reports.counting import AT, count
from tests.reports.treating import treated

PAGE = "/regions/"


def _words(client, **asked):
    response = client.get(PAGE, {"year": 2026} | asked)
    assert response.status_code == 200
    page = re.sub(r"<(script|style).*?</\\1>", " ", response.content.decode(), flags=re.S)
    return " ".join(re.sub(r"<[^>]+>", " ", page).split())


@pytest.fixture
def years(reference, counted_north, clock_of):
    """North counted in August of four more years, a third of this year's mites in each."""
    clock_of(dt.date(2022, 1, 1))
    for year in (2022, 2023, 2024, 2025):
        for yard in counted_north:
            count(yard.colonies.first(), dt.date(year, 8, 5), 1)
    refresh_marked(at=AT)


@pytest.fixture
def clock_of(counted_north):
    """The yards' colonies stand since that day."""

    def since(day):
        for yard in counted_north:
            yard.colonies.update(started_on=day)

    return since


def test_an_unusually_high_month_is_said_in_words(client_for, cast, years):
    client = client_for(cast.dana)
    words = _words(client)

    assert "2.1 ? uncertain high" in words
    assert "Unusually high for August beside 4 earlier years" in words
    assert "Unusually high for" not in _words(client, year=2025)
    assert "Unusually high for August beside 4 earlier years" in _words(client, region=cast.north.pk)


def test_two_earlier_years_make_nothing_unusual(client_for, cast, years):
    RegionMonth.objects.filter(month__lt=dt.date(2024, 1, 1)).delete()

    assert "high for August" not in _words(client_for(cast.dana))


def test_the_same_month_of_earlier_years_stands_beside_it_with_range_and_bees(client_for, cast, years):
    told = r"0\.4 \(\d\.\d to \d\.\d\), 1,500 bees, uncertain"
    words = _words(client_for(cast.dana), region=cast.north.pk)

    assert re.search(rf"2025: {told} 2024: {told} 2023: {told} 2022: {told}", words)
    assert "Fewer than 6 years have figures: too few to say whether they rise or fall." in words


def test_another_year_is_compared_in_the_cell_and_in_the_chart(client_for, cast, years):
    client = client_for(cast.dana)

    assert re.search(
        r"3,000 bees 2024: 0\.4 \? uncertain \d\.\d to \d\.\d 1,500 bees", _words(client, compare=2024)
    )
    plain = client.get("/regions/chart.svg", {"year": 2026}).content.decode()
    beside = client.get("/regions/chart.svg", {"year": 2026, "compare": 2024}).content.decode()
    # A month of its own year: bar, stroke, ring; of the other a line and a square.
    assert plain.count('aria-roledescription="point"') == 1
    assert beside.count('aria-roledescription="point"') == 2


def test_a_year_is_not_compared_with_itself(client_for, cast, years):
    client = client_for(cast.dana)
    words = _words(client, compare=2026)

    assert "Under the line" not in words and "Select a valid choice" not in words
    page = client.get(PAGE, {"year": 2025}).content.decode()
    offered = re.search(r'<select name="compare".*?</select>', page, re.S)[0]
    assert re.findall(r'value="(\d+)"', offered) == ["2026", "2024", "2023", "2022"]


def test_each_figure_says_how_it_stands_to_the_level_and_to_the_other_year(client_for, cast, years):
    client = client_for(cast.dana)
    words = _words(client, level="us_penn_state_jar", compare=2024)

    assert re.search(r"(below|either side of) 5 3,000 bees 2024: ", words)
    assert re.search(r"1,500 bees (higher than in 2024|no clear difference)", words)
    assert re.search(
        r"(below|either side of) 5", _words(client, level="us_penn_state_jar", region=cast.north.pk)
    )


def test_a_class_that_is_not_that_of_the_figure_says_whose_it_is():
    row = RegionMonth(rate=0.018, low=0.004, high=0.05, reason="")
    cell = Cell(dt.date(2026, 11, 1), None, row, None, 100, "per 100 bees", heat=4, drawn=2.3, own_class=3)

    assert cell.levelled == 2.3
    assert replace(cell, own_class=4).levelled is None


def test_page_says_once_how_sure_its_ranges_are_and_what_the_empty_words_mean(client_for, cast, years):
    words = _words(client_for(cast.dana))

    assert words.count("Every range on this page is a 95 % range") == 1
    assert (
        "of another kind there may be some" in words
        and "Colour and marks: class of the levelled figure" in words
    )


def test_shares_are_held_against_the_level_asked_for(client_for, cast, years):
    client = client_for(cast.dana)

    assert re.search(r"% of yards above 5 \(", _words(client, level="us_penn_state_jar"))
    assert "Penn State" in _words(client, level="us_penn_state_jar")
    # A month outside the level's own has no share.
    assert "of yards above" not in _words(client, level="ca_ontario_may_jar")
    # The level of another kind of count goes back to the usual.
    assert "Select a valid choice" not in _words(client, level="us_penn_state_jar", kind="board")


def test_parts_that_may_be_told_apart_have_figures_and_others_words(client_for, cast, keeper_in, reference):
    names = ("Ada", "Ben", "Cas", "Dov", "Eva", "Fin", "Gil", "Hal", "Ina", "Jon")
    yards = [keeper_in(name, cast.north)[0] for name in names]
    for yard in yards[:5]:
        treated(yard.colonies.all(), on=dt.date(2026, 8, 1))
    for yard in yards:
        count(yard.colonies.first(), dt.date(2026, 8, 25), 4)
    refresh_marked(at=AT)
    client = client_for(cast.dana)

    lately = _words(client, part=Part.TREATED_LATELY.value)
    assert "Only a part of the yards: treated within 6 weeks" in lately
    assert "5 keepers, 5 yards, 5 colonies" in lately
    assert "10 keepers, 10 yards, 10 colonies" in _words(client)

    # A sixth treated yard leaves four that are not: then neither part is told.
    treated(yards[5].colonies.all(), on=dt.date(2026, 8, 1))
    refresh_marked(at=AT)
    for part in (Part.TREATED_LATELY, Part.NOT_TREATED):
        words = _words(client, part=part.value)
        assert "part too small" in words and not re.search(r"\d keepers, \d", words)


def test_highest_first_orders_regions_by_what_is_drawn_together(client_for, cast, years, keeper_in):
    for name in ("Pia", "Quin", "Ria", "Sam", "Tom"):
        for yard in keeper_in(name, cast.south):
            count(yard.colonies.first(), dt.date(2026, 8, 5), 30)
    refresh_marked(at=AT)
    client = client_for(cast.dana)
    order = r'<th scope="row"><a href="[^"]*">(\w+)'

    assert re.findall(order, client.get(PAGE, {"year": 2026}).content.decode()) == ["North", "South"]
    highest = client.get(PAGE, {"year": 2026, "order": "highest"}).content.decode()
    assert re.findall(order, highest) == ["South", "North"]


def test_a_cells_class_is_told_by_marks_and_its_words_are_tied_to_its_button(client_for, cast, years):
    page = client_for(cast.dana).get(PAGE, {"year": 2026}).content.decode()
    tied = r'class="peek" popovertarget="([^"]+)" aria-describedby="([^"]+)">'
    button = re.search(rf'<td class="heat--(\d)"><button type="button" {tied}', page)

    assert button[1] == "4"  # 2.1 per 100 bees: between 2 and 4
    assert button[2] == button[3] and f'id="{button[2]}" popover>North, Aug 2026' in page


def _asked(client, path, asked):
    """How many questions a page asks, and those of them that read figures."""
    with CaptureQueriesContext(connection) as queries:
        client.get(path, asked)
    # Read at once: the next request empties the log.
    told = [query["sql"] for query in queries]
    return len(told), [sql for sql in told if '"reports_regionmonth"."rate"' in sql]


def test_json_of_all_levels_is_not_fetched_and_queries_do_not_grow(client_for, cast, years):
    client = client_for(cast.dana)
    asked = {"year": 2026, "compare": 2025}
    client.get(PAGE)  # reads who is asking, once
    whole, read = _asked(client, PAGE, asked)
    one, _ = _asked(client, PAGE, asked | {"region": cast.north.pk})

    assert len(read) == 2  # this year's rows, and what is told of the others
    assert not any('"reports_regionmonth"."shares",' in sql for sql in read)
    assert one == whole


def test_what_was_drawn_is_kept_until_a_figure_changes(client_for, cast, years, counted_north):
    client, year, chart = client_for(cast.dana), {"year": 2026}, f"{PAGE}chart.svg"
    before = _figure(client)
    _, again = _asked(client, PAGE, year)
    _, of_chart = _asked(client, chart, year)
    drawn = client.get(chart, year).content
    _, of_chart_again = _asked(client, chart, year)
    refresh_marked(at=AT)  # finds nothing new
    _, still = _asked(client, PAGE, year)
    count(counted_north[0].colonies.first(), dt.date(2026, 8, 6), 60)
    refresh_marked(at=AT)

    assert len(of_chart) == 2
    assert not again and not of_chart_again and not still
    assert _figure(client) != before
    assert client.get(chart, year).content != drawn


def _figure(client):
    page = client.get(PAGE, {"year": 2026}).content.decode()
    return re.search(r"North, Aug 2026\nMean of the yards: ([^\n]+)", page)[1]


def test_a_region_with_another_name_is_shown_by_it_at_once(client_for, cast, years):
    client = client_for(cast.dana)
    client.get(PAGE, {"year": 2026})
    cast.north.name = "Uplands"
    cast.north.save()
    page = client.get(PAGE, {"year": 2026}).content.decode()

    assert "Uplands, Aug 2026" in page and "North, Aug 2026" not in page


def test_nothing_is_said_of_the_figures_age_before_there_are_any(client_for, cast):
    assert "Figures as of" not in client_for(cast.dana).get(PAGE).content.decode()


def test_links_keep_what_was_asked(client_for, cast, years):
    asked = {
        "kind": "wash",
        "year": 2026,
        "level": "us_penn_state_jar",
        "compare": 2024,
    }
    page = client_for(cast.dana).get(PAGE, asked).content.decode()

    assert f"?{urlencode(asked)}&region={cast.north.pk}".replace("&", "&amp;") in page


def test_a_part_without_figures_is_not_told_as_no_samples(client_for, cast, years):
    words = _words(client_for(cast.dana), part="with_brood")

    assert "No figures for these yards" in words
    assert "No samples here yet" not in words
