"""Treatment results: figures, words and hidden rows, not for members; filters that never change a figure."""

import datetime as dt
import re
from html import unescape

import pytest
from django.core.cache import cache
from django.db import connection
from django.test.utils import CaptureQueriesContext

from apiaries.actions import add_region
from reports.early_warning import Look
from reports.results_page import _told
from reports.treatment_results import ResultRow
from tests.treatments.making import AFTER, BEFORE, jar, treat
from treatments.actions import cancel_treatment
from treatments.outcome import Verdict

PAGE = "/regions/treatments/"


@pytest.fixture(autouse=True)
def december(time_machine):
    time_machine.move_to(dt.datetime(2026, 12, 1, 12, tzinfo=dt.UTC))


def _treated(yard, before=30, after=0, way="oxalic_vapour_us", year=2026):
    """A yard's two colonies counted before, treated and counted after."""
    colonies = list(yard.colonies.order_by("pk")[:2])
    for colony in colonies:
        jar(colony, BEFORE.replace(year=year), before)
    treatment = treat(colonies, dt.date(year, 8, 3), way=way)
    for colony in colonies:
        if after is not None:
            jar(colony, AFTER.replace(year=year), after)
    return treatment


@pytest.fixture
def results(reference, cast, keeper_in):
    """Six yards of six keepers in North treated in 2026: four worked, one did not, one was not counted after."""
    yards = [cast.alice_yard]
    for name in ("Kim", "Lee", "Mia", "Noa", "Ola"):
        yards += keeper_in(name, cast.north)
    for yard, after in zip(yards, (0, 0, 0, 0, 20, None), strict=True):
        _treated(yard, after=after)
    return yards


def _page(client, query="?season=2026"):
    response = client.get(PAGE + query)
    assert response.status_code == 200
    return response.content.decode()


def _rows(page):
    """Words of the rows by the name of the treatment."""
    found = re.findall(r'<th scope="row">(.*?)</th>(.*?)</tr>', page.split("<tbody>")[-1], re.S)
    return {_bare(name): _bare(cells) for name, cells in found}


def _bare(html):
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).split())


def test_row_tells_counts_drop_with_range_and_words(client_for, cast, results):
    row = _rows(_page(client_for(cast.dana)))["Oxalic acid, vapour"]

    assert row.startswith("5 of 6 treatments 6 yards of 6 keepers")
    assert re.search(r"(\d+) % \((−?\d+) to (\d+) %\) 5 yards of 5 keepers target 90 %", row)
    assert row.endswith("4 worked 0 fell short 1 did not work 1 can't tell yet")


def test_page_names_no_keeper_no_yard_and_no_product(client_for, cast, results):
    page = _page(client_for(cast.ivan))

    for word in ("Kim", "Lee", "Mia", "Home yard", "Yard 1"):
        assert word not in page
    assert "What else moves these figures" in page and "under cappings" in page


@pytest.mark.parametrize("person", ["dana", "ines", "ivan", "adam"])
def test_everybody_who_sees_them_sees_the_same_rows(client_for, cast, results, person):
    assert _rows(_page(client_for(getattr(cast, person)))) == _rows(_page(client_for(cast.dana)))


def test_another_club_sees_nothing_and_strangers_sign_in(client_for, cast, results):
    assert "No treatments here yet" in _page(client_for(cast.zoe))
    assert client_for(None).get(PAGE).url.startswith("/account/login/")


def test_region_with_one_keeper_is_hidden_and_cannot_be_worked_out(client_for, cast, results):
    _treated(cast.charlie_yard, after=20)
    client = client_for(cast.dana)
    south = _rows(_page(client, f"?season=2026&region={cast.south.pk}"))["Oxalic acid, vapour"]
    north = _rows(_page(client, f"?season=2026&region={cast.north.pk}"))["Oxalic acid, vapour"]
    whole = _rows(_page(client))["Oxalic acid, vapour"]

    assert south == "too few keepers"
    assert north == "hidden so that another region cannot be worked out from it"
    assert whole.startswith("6 of 7 treatments")


def test_few_counts_before_and_after_show_no_words(client_for, cast, reference, keeper_in):
    for number, name in enumerate(("Kim", "Lee", "Mia", "Noa", "Ola")):
        _treated(keeper_in(name, cast.north)[0], after=0 if number < 2 else None)

    row = _rows(_page(client_for(cast.dana)))["Oxalic acid, vapour"]
    assert row == (
        "2 of 5 treatments 5 yards of 5 keepers not shown: too few keepers among those counted both times"
    )


def test_ingredient_without_a_target_has_a_drop_and_no_word(client_for, cast, reference, keeper_in):
    for name in ("Kim", "Lee", "Mia", "Noa", "Ola"):
        _treated(keeper_in(name, cast.north)[0], after=10, way="drone_brood_removal_any")

    row = _rows(_page(client_for(cast.dana)))["Drone brood removal"]
    assert row.endswith("5 without a published target, so no word")
    assert re.search(r"\d+ % \(", row)


def test_row_below_the_target_as_a_whole_says_so_without_any_history(client_for, cast, reference, keeper_in):
    for name in ("Kim", "Lee", "Mia", "Noa", "Ola"):
        _treated(keeper_in(name, cast.north)[0], after=14)

    page = _bare(_page(client_for(cast.dana)))
    assert "All of the range is below the target of 90 %." in page
    assert "licensed adviser" in page and "no good news and no bad news" in page


def test_filters_pick_rows(client_for, cast, results):
    client = client_for(cast.dana)

    assert _rows(_page(client, "?season=2026&ingredient=oxalic_acid"))
    assert "No treatments here yet" in _page(client, "?season=2026&ingredient=amitraz")
    assert "No treatments here yet" in _page(client, f"?season=2026&region={cast.south.pk}")


def test_cancelled_treatment_is_left_out(client_for, cast, results):
    treatment = treat(list(results[1].colonies.all()), dt.date(2026, 10, 1))
    cancel_treatment(
        treatment=treatment,
        why="nothing was given",
        at=dt.datetime(2026, 12, 1, tzinfo=dt.UTC),
        by=results[1].keeper,
    )

    assert _rows(_page(client_for(cast.dana)))["Oxalic acid, vapour"].startswith("5 of 6")


@pytest.mark.parametrize("query", ["?season=1066", "?season=x", "?ingredient=honey", "?season=2026%00"])
def test_odd_wishes_get_the_usual_page_with_a_word(client_for, cast, results, query):
    page = _page(client_for(cast.dana), query)

    assert "Error: " in page and "<title>Error: Treatment results" in page
    assert "Oxalic acid, vapour" in page


def test_region_of_another_club_does_not_exist(client_for, cast, results):
    foreign = add_region(club=cast.zoe.membership.club, name="Far", by=cast.zoe)
    for region in (foreign.pk, 10**9, "x"):
        assert client_for(cast.dana).get(PAGE, {"region": region}).status_code == 404


def test_too_few_to_compare_is_told_as_neither_news(client_for, cast, results):
    assert "no good news and no bad news" in _page(client_for(cast.dana))


def test_early_warning_is_told_with_what_to_do_and_blames_nobody(client_for, cast, reference, keeper_in):
    for number in range(22):
        yard = keeper_in(f"Old{number}", cast.north)[0]
        _treated(yard, year=2025)
        if number < 8:
            _treated(yard, after=20)
    page = _page(client_for(cast.dana))

    assert "Oxalic acid fell short, or did not work, in unusually many yards in 2026" in page
    assert "All regions together: 8 of the 8 yards that gave a clear answer, of 8 keepers." in page
    assert re.search(r"about \d+ % of yards \(range \d+ to \d+ %, from 20–49 yards\)", page)
    assert "what to do next" in page and "Nobody did wrong because of it" in page
    assert "early warning below" in page
    assert "in unusually many yards in" not in _page(client_for(cast.dana), "?season=2025")


def test_warning_about_a_hidden_row_has_no_number():
    look = Look("amitraz", 1, 2026, 8, 5, 7, 30, 0.1, 0.02, 0.2, 0.0001, 0.01)
    row = ResultRow("amitraz", "strip", "Amitraz, strip", 2026, 1, 8, 8, 8, 5, {Verdict.WORKED: 1}, None)
    told = _told(look, [row], {1: "North"})
    hidden = ResultRow("amitraz", "wafer", "", 2026, 1, 1, 1, 1, 1, {}, None, guards_others=True)

    assert told.startswith("North: 7 of the 8 yards")
    assert not re.search(r"\d", _told(look, [row, hidden], {1: "North"}))


def test_query_count_is_the_same_for_few_and_many(client_for, cast, results, keeper_in):
    client = client_for(cast.dana)
    _page(client)
    cache.clear()
    with CaptureQueriesContext(connection) as few:
        _page(client)
    for number in range(6):
        region = add_region(club=cast.club, name=f"Valley {number}", by=cast.adam)
        yard = keeper_in(f"Uli{number}", region)[0]
        for year in (2024, 2025, 2026):
            _treated(yard, way=("amitraz_strip_us", "thymol_any")[number % 2], year=year)
    cache.clear()
    with CaptureQueriesContext(connection) as many:
        _page(client)

    assert len(few) == len(many)


def test_figures_are_kept_for_a_while_and_then_read_again(client_for, cast, results, time_machine):
    client = client_for(cast.dana)
    assert "5 of 6 treatments" in _bare(_page(client))
    for colony in results[5].colonies.order_by("pk")[:2]:
        jar(colony, AFTER, 0)

    assert "5 of 6 treatments" in _bare(_page(client))
    time_machine.move_to(dt.datetime(2026, 12, 1, 12, 11, tzinfo=dt.UTC))
    assert "6 of 6 treatments" in _bare(_page(client))


def test_members_do_not_see_them(client_for, cast, results):
    assert client_for(cast.alice).get(PAGE).status_code == 403


def test_region_page_leads_here(client_for, cast, reference):
    assert f'href="{PAGE}"' in client_for(cast.dana).get("/regions/").content.decode()


def test_page_says_first_what_worked_in_how_many_treatments(client_for, cast, results):
    page = _page(client_for(cast.dana))

    assert "Oxalic acid, vapour: worked in 4 of 5 treatments with a clear answer." in _bare(page)
    assert page.index("What came of it") < page.index("<h2>Early warning</h2>")


def test_what_stays_below_its_target_is_no_all_clear(client_for, cast, reference, keeper_in, monkeypatch):
    usual = Look(
        ingredient="oxalic_acid", region=None, season=2026, yards=5, keepers=5, short=5, compared=20, usual=0.9,
        usual_low=0.8, usual_high=1.0, chance=0.6, limit=0.01,
    )  # fmt: skip
    monkeypatch.setattr("reports.results_page.early_warnings", lambda *_: [usual])
    yards = [keeper_in(name, cast.north)[0] for name in ("Kim", "Lee", "Mia", "Noa", "Ola")]
    for yard in yards:
        for year in (2025, 2026):
            _treated(yard, before=60, after=70, year=year)

    whole = _bare(_page(client_for(cast.dana)))
    below = (
        "worked in 0 of 5 treatments with a clear answer. All of the range of its drop is below the target."
    )
    assert f"Oxalic acid, vapour: {below}" in whole and f"North: {below}" in whole
    assert "Nothing new: beside earlier seasons and other regions, no ingredient fell short" in whole
    assert "That is no all-clear: Oxalic acid, vapour stayed below the target" in whole

    one = _bare(_page(client_for(cast.dana), f"?season=2026&region={cast.north.pk}"))
    assert one.index(f"Oxalic acid, vapour: {below}") < one.index(f"All regions together: {below}")
