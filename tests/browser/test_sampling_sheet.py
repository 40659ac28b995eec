"""Which colonies to sample, as printed and on a phone."""

import re
from collections.abc import Callable
from typing import Any

import pytest
from django.urls import reverse
from playwright.sync_api import BrowserContext

from apiaries.actions import add_numbered_colonies
from apiaries.models import Person
from tests.cast import STARTED, Cast

pytestmark = [pytest.mark.slow, pytest.mark.django_db(transaction=True)]

Window = Callable[[Person | None, int, int], BrowserContext]
BOTTOM = "() => document.querySelector('.write-in').getBoundingClientRect().bottom"
TOO_WIDE = "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"
PX_PER_MM = 96 / 25.4
MARGINS_MM = 28  # two margins of 14 mm, as the style sheet sets them
PAPERS = {"A4": (210, 297), "Letter": (215.9, 279.4)}


def _opened(window: Window, cast: Cast, width: int, query: str = "") -> Any:
    add_numbered_colonies(yard=cast.alice_yard, first=7, last=24, started_on=STARTED, by=cast.alice)
    page = window(cast.alice, width, 900).new_page()
    page.goto(reverse("counts:sampling-plan", args=[cast.alice_yard.pk]) + query)
    return page


@pytest.mark.parametrize("paper", PAPERS)
def test_list_prints_on_one_sheet_without_navigation(
    cast: Cast, reference: None, window: Window, paper: str
) -> None:
    wide, high = (round((one - MARGINS_MM) * PX_PER_MM) for one in PAPERS[paper])
    page = _opened(window, cast, wide)
    page.emulate_media(media="print")

    assert page.evaluate(TOO_WIDE) == 0
    assert page.evaluate(BOTTOM) < high
    for gone in ("nav", "form.how-many", "footer", ".back", ".actions"):
        assert not page.locator(gone).first.is_visible()
    assert page.locator("td.to-tick:visible").count() == 11
    assert page.get_by_role("columnheader", name="Bees").is_visible()
    assert cast.alice_yard.name in page.locator(".lead").inner_text()


@pytest.mark.parametrize("paper", PAPERS)
def test_whole_sheet_takes_two_pages(cast: Cast, reference: None, window: Window, paper: str) -> None:
    page = _opened(window, cast, 800)

    assert len(re.findall(rb"/Type\s*/Page\b", page.pdf(format=paper))) == 2


def test_phone_shows_the_list_and_asks_by_touch(cast: Cast, reference: None, window: Window) -> None:
    page = _opened(window, cast, 390, "?k=99")

    assert page.evaluate(TOO_WIDE) == 0
    assert page.locator("td.to-tick:visible").count() == 0
    assert page.locator("#id_k").input_value() == "99"
    page.get_by_role("link", name="Only 24 colonies live here.").click()
    page.keyboard.press("ControlOrMeta+A")
    page.keyboard.type("5")
    page.keyboard.press("Enter")
    page.wait_for_url("**k=5*")
    assert page.locator(".write-in tbody tr").count() == 5 + 3
    assert page.get_by_role("button", name="List this many").bounding_box()["height"] >= 44
