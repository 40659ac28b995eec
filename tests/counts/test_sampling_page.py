"""Which colonies to sample: the list, how sure it makes, when to stop."""

import math
import re
from collections.abc import Callable
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from apiaries.actions import add_numbered_colonies
from apiaries.models import Person
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
    rows = re.findall(r'<td class="number">(\w+)</td>\s*<th scope="row">Colony (\w+)</th>', page)
    return [name for order, name in rows if order != "spare"]


def _spares(page: str) -> list[str]:
    return re.findall(r'<td class="number">spare</td>\s*<th scope="row">Colony (\w+)</th>', page)


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
    assert "gained by 3 more colonies" in page
    assert "counted sequentially" in page


@pytest.mark.parametrize("odd", ["", "x", "-1", "9" * 400, "٣"])
def test_odd_number_gives_a_list_all_the_same(alice: Client, cast: Cast, odd: str) -> None:
    assert 1 <= len(_drawn(_page(alice, cast, k=odd, draw=odd))) <= 6


def test_no_level_is_said(alice: Client, cast: Cast) -> None:
    type(cast.club).objects.filter(pk=cast.club.pk).update(action_level_issuer="")
    assert "no single action level" in _page(alice, cast)


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


def test_number_can_be_asked_for(alice: Client, cast: Cast) -> None:
    page = _page(alice, cast, k="2")

    assert len(_drawn(page)) == 2
    assert "2 of 6 colonies, drawn by chance" in page


def _twenty(cast: Cast) -> None:
    add_numbered_colonies(yard=cast.alice_yard, first=7, last=20, started_on=STARTED, by=cast.alice)


# Independent simulation of yards of 20 colonies, action level 3 per 100, squared spread between colonies .8, jars
# of 300 bees: right calls at true means of 1, 1.5, 4.5 and 6 per 100, printed to two digits (test_decisions.py).
@pytest.mark.parametrize(("k", "right"), [(5, (90, 65, 46, 72)), (8, (98, 84, 60, 88))])
def test_table_of_right_calls_meets_the_simulation(
    alice: Client, cast: Cast, k: int, right: tuple[int, ...]
) -> None:
    _twenty(cast)
    page = _page(alice, cast, k=str(k))
    rows = re.findall(r'<tr><th scope="row">(\d\.\d)</th><td>(?:over |under )?(\d+)</td>', page)

    assert [rate for rate, _ in rows] == ["1.0", "1.5", "4.5", "6.0"]
    assert [int(found) for _, found in rows] == pytest.approx(right, abs=3)


def test_stopping_table_is_walds(alice: Client, cast: Cast) -> None:
    # Wald's lines by hand: negative binomial of size 1 / (c_b2 + c_s2), 10 % wrong each way, 1.5 against 3 per
    # 100 in 285 bees found of 300 (recovery .95).
    _twenty(cast)
    size = 1 / (0.8 + 1.01 * 1.04 * (1 + (0.03 / 0.95) ** 2) - 1)
    low, high = 0.015 * 285, 0.03 * 285
    weight = math.log(high * (low + size) / (low * (high + size)))
    slope, reach = size * math.log((high + size) / (low + size)) / weight, math.log(9) / weight
    page = _page(alice, cast, k="8")

    rows = re.findall(r'<tr><th scope="row">(\d+)</th><td>(go on|\d+)</td><td>(\d+)</td></tr>', page)
    assert len(rows) == 8
    for colonies, below, above in rows:
        line = slope * int(colonies)
        assert below == ("go on" if line < reach else str(math.floor(line - reach)))
        assert above == str(math.ceil(line + reach))


def test_precision_is_that_of_the_plan(alice: Client, cast: Cast) -> None:
    # By the planner's formula: D2 = (c_b2 + c_s2 + 1 / (n rate)) / k - c_b2 / N, at 3 per 100.
    _twenty(cast)
    page = _page(alice, cast, k="8")
    told = [round(100 * math.sqrt((0.8 + 0.0515 + 1 / (285 * 0.03)) / k - 0.8 / 20)) for k in (8, 11)]

    assert f"the mean of 8 colonies is within about {told[0]} % of the truth two times in three" in page
    assert f"With 3 more, 11 in all, within about {told[1]} %." in page
