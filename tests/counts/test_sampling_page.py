"""Which colonies to sample: the list, how sure it makes, when to stop."""

import re
from collections.abc import Callable
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from apiaries.models import Person
from tests.cast import Cast
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
    return re.findall(r"<li>Colony (\w+)</li>", page)


def test_list_stays_the_same_until_drawn_anew(alice: Client, cast: Cast) -> None:
    first = _drawn(_page(alice, cast, k="3"))
    assert len(set(first)) == 3
    assert _drawn(_page(alice, cast, k="3")) == first
    assert any(_drawn(_page(alice, cast, k="3", draw=str(n))) != first for n in range(1, 5))


def test_spares_are_none_of_those_chosen(alice: Client, cast: Cast) -> None:
    page = _page(alice, cast, k="3")
    spares = re.findall(r"colony (\w+)", page[page.index("Spares") : page.index("Draw anew")])
    assert sorted(spares + _drawn(page)) == ["1", "2", "3", "4", "5", "6"]


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
