"""The second step set up by keyboard on a small phone: from the page that says why to the pages it opens."""

from typing import Any

import pytest
from playwright.sync_api import Page

from tests.apiaries.test_second_step import code_of
from tests.browser.pages import Window
from tests.browser.test_tokens import sound
from tests.cast import PASSWORD, Cast

pytestmark = [pytest.mark.slow, pytest.mark.django_db(transaction=True)]


def test_set_up_by_keyboard_on_a_small_phone(cast: Cast, window: Window, settings: Any) -> None:
    settings.REQUIRE_SECOND_STEP = True
    page = window(cast.dana, 320, 640).new_page()

    page.goto("/members/")
    page.get_by_role("heading", name="Set up your second step to go on").wait_for()
    sound(page)
    page.get_by_role("link", name="Set it up").press("Enter")
    page.get_by_label("Password").fill(PASSWORD)
    page.keyboard.press("Enter")
    secret = page.get_by_label("No camera? Type this secret into the app").input_value()
    sound(page)
    page.locator("#id_code").fill(code_of(secret, takes=10))
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Recovery codes").wait_for()
    sound(page)
    page.goto("/members/")

    page.get_by_role("heading", name="Members", exact=True).wait_for()


def test_page_is_read_aloud_as_steps(cast: Cast, window: Window, settings: Any) -> None:
    settings.REQUIRE_SECOND_STEP = True
    page = window(cast.adam, 1280, 800).new_page()
    page.goto("/me/second-step/")

    assert page.get_by_role("main").get_by_role("listitem").count() == 4
    assert _names(page) == ["Help", "Cautions"]


def _names(page: Page) -> list[str]:
    """Links at the foot that lead to pages of the site, but for the language."""
    links = page.locator("footer a").all()
    return [link.inner_text() for link in links if link.get_attribute("href") != "/language/"]
