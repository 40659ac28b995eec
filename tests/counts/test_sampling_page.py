"""Which colonies to sample: the list, how sure it makes, when to stop."""

import math
import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from apiaries.actions import add_numbered_colonies
from apiaries.models import Person
from counts import planning
from counts.constants import DEFAULTS, Constant, Mark
from tests.cast import STARTED, Cast
from tests.counts.counting import AT, kept


@pytest.fixture(autouse=True)
def _on_that_day() -> Any:
    with time_machine.travel(AT, tick=False):
        yield


@pytest.fixture
def alice(cast: Cast, reference: None, client_for: Callable[[Person], Client]) -> Client:
    return client_for(cast.alice)


def _page(client: Client, cast: Cast, **query: str) -> str:
    return client.get(reverse("counts:sampling-plan", args=[cast.alice_yard.pk]), query).content.decode()


def _drawn(page: str) -> list[str]:
    rows = re.findall(r'<td class="order">(\w+)</td>\s*<th scope="row">Colony (\w+)</th>', page)
    return [name for order, name in rows if order != "spare"]


def _spares(page: str) -> list[str]:
    return re.findall(r'<td class="order">spare</td>\s*<th scope="row">Colony (\w+)</th>', page)


def test_list_stays_the_same_until_drawn_anew(alice: Client, cast: Cast) -> None:
    first = _drawn(_page(alice, cast, k="3"))
    assert len(set(first)) == 3
    assert _drawn(_page(alice, cast, k="3")) == first
    assert any(_drawn(_page(alice, cast, k="3", draw=str(n))) != first for n in range(1, 5))


def test_spares_are_none_of_those_chosen(alice: Client, cast: Cast) -> None:
    page = _page(alice, cast, k="3")
    assert sorted(_spares(page) + _drawn(page)) == ["1", "2", "3", "4", "5", "6"]


def test_page_says_how_sure_and_when_to_stop(alice: Client, cast: Cast) -> None:
    page = _page(alice, cast, k="3")
    assert "3 of 6 colonies" in page
    assert "action level 3 (USDA-ARS Tucson)" in page
    assert "Gained by 3 more" in page
    assert "counted sequentially" in page
    assert "the lines take the yard as endless" in page.lower()
    assert "the mean is not the usual estimate" in page


@pytest.mark.parametrize("odd", ["", "x", "-1", "9" * 400, "٣"])
def test_odd_number_gives_a_list_all_the_same(alice: Client, cast: Cast, odd: str) -> None:
    assert 1 <= len(_drawn(_page(alice, cast, k=odd, draw=odd))) <= 6


def test_no_level_is_said_but_how_close_is_told(alice: Client, cast: Cast) -> None:
    type(cast.club).objects.filter(pk=cast.club.pk).update(action_level_issuer="")
    page = _page(alice, cast)
    assert "no single action level" in page
    assert "truly has 3 mites per 100 bees, the mean of 6 of 6 colonies" in page
    assert "Stop early" not in page


@pytest.mark.parametrize(
    ("mites", "words"),
    [(6, "more bees of this colony"), (9, "no amount of counting"), (0, ""), (40, "")],
)
def test_count_says_what_would_settle_it(alice: Client, cast: Cast, mites: int, words: str) -> None:
    sample = kept(cast.colony, cast.alice, mites)
    page = alice.get(reverse("counts:sample-detail", args=[sample.pk])).content.decode()
    assert ("What would settle it" in page) is bool(words)
    assert words in page


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("0", "Enter at least 1 colony."),
        ("7", "Only 6 colonies live here."),
        ("eight", "as a whole number from 1 on"),
        ("", "as a whole number from 1 on"),
    ],
)
def test_wrong_number_is_told_at_its_box_and_kept(alice: Client, cast: Cast, typed: str, words: str) -> None:
    page = _page(alice, cast, k=typed)

    assert words in page
    assert '<a href="#id_k">' in page
    assert not typed or f'value="{typed}"' in page
    assert len(_drawn(page)) == 6


@pytest.mark.parametrize(("typed", "listed"), [("99", 20), ("0", 8), ("abc", 8), ("", 8)])
def test_list_stays_usable_where_the_number_is_not(
    alice: Client, cast: Cast, typed: str, listed: int
) -> None:
    _twenty(cast)
    page = _page(alice, cast, k=typed)

    assert len(_drawn(page)) == listed
    assert f"Until then the list is for {listed}." in page
    assert "<title>Error: Which colonies" in page


def test_longer_list_begins_as_the_shorter_one_and_takes_its_spares_next(alice: Client, cast: Cast) -> None:
    _twenty(cast)
    eight = _page(alice, cast, k="8", draw="2")
    eleven = _page(alice, cast, k="11", draw="2")

    assert _drawn(eleven) == _drawn(eight) + _spares(eight)


def test_hint_tells_how_few_get_no_call_where_that_can_be(alice: Client, cast: Cast) -> None:
    assert "At least 3, or all, for a call." in _page(alice, cast)
    for colony in cast.alice_yard.colonies.all()[3:]:
        colony.delete()
    assert "for a call" not in _page(alice, cast)


def test_other_number_keeps_the_draw(alice: Client, cast: Cast) -> None:
    assert '<input type="hidden" name="draw" value="2">' in _page(alice, cast, k="3", draw="2")
    assert 'name="draw"' not in _page(alice, cast, k="3")


def test_yard_without_colonies_asks_for_no_number(alice: Client, cast: Cast) -> None:
    cast.alice_yard.colonies.all().delete()
    page = _page(alice, cast, k="3")

    assert "No colonies live in this yard." in page
    assert 'name="k"' not in page


def test_number_can_be_asked_for(alice: Client, cast: Cast) -> None:
    page = _page(alice, cast, k="2")

    assert len(_drawn(page)) == 2
    assert "2 of 6 colonies, drawn by chance" in page


def _twenty(cast: Cast) -> None:
    add_numbered_colonies(yard=cast.alice_yard, first=7, last=20, started_on=STARTED, by=cast.alice)


# Independent simulation of yards of 20 colonies, action level 3 per 100, squared spread between colonies .8, jars
# of 300 bees: right calls at true means of 1, 1.5, 4.5 and 6 per 100, printed to two digits (test_decisions.py).
@pytest.mark.parametrize(
    ("k", "right"),
    [
        (3, (70, 46, 35, 57)),
        (5, (90, 65, 46, 72)),
        (8, (98, 84, 60, 88)),
        (12, (100, 97, 78, 97)),
    ],
)
def test_table_of_right_calls_meets_the_simulation(
    alice: Client, cast: Cast, k: int, right: tuple[int, ...]
) -> None:
    _twenty(cast)
    page = _page(alice, cast, k=str(k))
    rows = re.findall(r'<tr><th scope="row">(\d\.\d)</th><td>(?:over |under )?(\d+)</td>', page)

    assert [rate for rate, _ in rows] == ["1.0", "1.5", "4.5", "6.0"]
    assert [int(found) for _, found in rows] == pytest.approx(right, abs=3)


def test_three_more_colonies_gain_what_the_simulation_gains(alice: Client, cast: Cast) -> None:
    # From the same simulation: 8 colonies less 5, two digits each.
    _twenty(cast)
    page = _page(alice, cast, k="5")
    gains = [int(found) for found in re.findall(r"<td>(-?\d+)</td></tr>", page[: page.index("Stop early")])]

    assert gains == pytest.approx([98 - 90, 84 - 65, 60 - 46, 88 - 72], abs=3)


def _stop_rows(page: str) -> list[tuple[str, str, str]]:
    return re.findall(r'<tr><th scope="row">(\d+)</th><td>(go on|\d+)</td><td>(\d+)</td><td class="on', page)


@pytest.mark.parametrize(
    ("size", "level", "slope", "reach"), [(2, 0.03, 6.294, 14.215), (2, 0.04, 8.377, 17.870)]
)
def test_stopping_table_shows_the_printed_lines(
    alice: Client,
    cast: Cast,
    monkeypatch: pytest.MonkeyPatch,
    size: float,
    level: float,
    slope: float,
    reach: float,
) -> None:
    # Calculated lines, as in test_sampling_plan.py: 1.5 against 3 and 2 against 4 per 100 in jars of 300 bees that
    # give up all their mites, size 2 between colonies, squared spread .0536 within a jar.
    own = Constant(1 / size, Mark.COMPUTED, "")
    monkeypatch.setattr(planning, "BEES", 300 / 0.95)
    monkeypatch.setattr(planning, "jar_c2", lambda *_: 0.0536)
    monkeypatch.setattr(planning, "constants_of_club", lambda _: replace(DEFAULTS, between_c2=own))
    published = planning._level
    monkeypatch.setattr(planning, "_level", lambda *of: replace(published(*of), act_at=100 * level))
    _twenty(cast)
    rows = _stop_rows(_page(alice, cast, k="20"))

    assert [int(colonies) for colonies, _, _ in rows] == list(range(1, 13))
    for colonies, below, above in rows:
        line = slope * int(colonies)
        assert below == ("go on" if line < reach else str(math.floor(line - reach)))
        assert above == str(math.ceil(line + reach))


def test_stopping_table_is_walds(alice: Client, cast: Cast) -> None:
    # Wald's lines by hand: negative binomial of size 1 / (c_b2 + c_s2), 10 % wrong each way, 1.5 against 3 per
    # 100 in 285 bees found of 300 (recovery .95).
    _twenty(cast)
    size = 1 / (0.8 + 1.01 * 1.04 * (1 + (0.03 / 0.95) ** 2) - 1)
    low, high = 0.015 * 285, 0.03 * 285
    weight = math.log(high * (low + size) / (low * (high + size)))
    slope, reach = size * math.log((high + size) / (low + size)) / weight, math.log(9) / weight
    page = _page(alice, cast, k="8")

    rows = _stop_rows(page)
    assert len(rows) == 8
    for colonies, below, above in rows:
        line = slope * int(colonies)
        assert below == ("go on" if line < reach else str(math.floor(line - reach)))
        assert above == str(math.ceil(line + reach))


def test_precision_is_that_of_the_plan(alice: Client, cast: Cast) -> None:
    # By the planner's formula: D2 = (c_b2 + c_s2 + 1 / (n rate)) / k - c_b2 / N, at 3 per 100.
    _twenty(cast)
    page = _page(alice, cast, k="8")
    eight, eleven = (math.sqrt((0.8 + 0.0515 + 1 / (285 * 0.03)) / k - 0.8 / 20) for k in (8, 11))

    words = "the mean of 8 of 20 colonies comes out at that, give or take about"
    range_of = [f"{3 * (1 + sign * eight):.1f}" for sign in (-1, 1)]
    assert (
        f"{words} {round(100 * eight)} %: between {range_of[0]} and {range_of[1]} two times in three" in page
    )
    assert f"With 3 more, 11 in all: give or take about {round(100 * eleven)} %" in page


def test_precision_uses_the_clubs_own_spread_and_says_so(
    alice: Client, cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    own = Constant(0.25, Mark.COMPUTED, "your club’s own washes")
    monkeypatch.setattr(planning, "constants_of_club", lambda _: replace(DEFAULTS, between_c2=own))
    page = _page(alice, cast, k="3")

    assert "by about 50 % of it (standard deviation; computed: your club’s own washes)" in page


def test_paper_has_boxes_to_tick_and_room_for_each_colony(alice: Client, cast: Cast) -> None:
    page = _page(alice, cast, k="3")
    headings = re.findall(r'<th scope="col" class="on-paper[a-z -]*">([\w ]+)</th>', page)

    assert headings == ["Done", "Mites", "Bees", "Remark", "Mites so far"]
    assert page.count("☐") == 6
