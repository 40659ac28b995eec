"""A token made by keyboard, from the password to the word; and the page that tries the interface runs only our own."""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from tests.browser.pages import Window
from tests.browser.test_axe import RULES
from tests.cast import PASSWORD, Cast

pytestmark = [pytest.mark.slow, pytest.mark.django_db(transaction=True)]

# What hangs over the edge of a narrow window, pages of twice the letters included.
WIDE = "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"


def sound(page: Page) -> None:
    """No fault that axe finds, and nothing hangs over the edge."""
    broken = Axe().run(page, options=RULES).response["violations"]
    assert [(rule["id"], node["target"]) for rule in broken for node in rule["nodes"]] == []
    assert page.evaluate(WIDE) <= 0


def test_a_token_is_made_by_keyboard_on_a_small_phone(cast: Cast, window: Window) -> None:
    page = window(cast.alice, 320, 640).new_page()
    page.goto("/me/tokens/")
    page.get_by_role("link", name="Make a token").press("Enter")
    page.get_by_label("Password").fill(PASSWORD)
    page.keyboard.press("Enter")

    page.get_by_role("heading", name="Make a token").wait_for()
    sound(page)
    page.get_by_role("button", name="Make the token").press("Enter")
    page.locator(".error-summary").wait_for()
    sound(page)
    page.get_by_label("What is it for?").fill("scale at the club house")
    page.get_by_label("Read counts and what they say").press("Space")
    page.get_by_label("90 days").press("Space")
    page.get_by_role("button", name="Make the token").press("Enter")

    word = page.get_by_label("Access token").input_value()
    sound(page)
    answer = page.request.get("/api/v1/me/", headers={"Authorization": f"Bearer {word}"}).json()
    assert answer["token"]["scopes"] == ["counts:read"]
    page.reload()  # sends the form again
    page.get_by_text("This token is made already").wait_for()
    assert page.locator("#token").count() == 0
    assert page.get_by_role("link", name=re.compile("Revoke.*scale at the club house")).count() == 1


def test_the_description_reads_without_a_script_at_any_width(cast: Cast, window: Window) -> None:
    page = window(None, 320, 640).new_page()
    page.route("**/*.js", lambda route: route.abort())

    page.goto("/api/docs/")

    page.get_by_text("GET /api/v1/yards/", exact=True).wait_for()
    sound(page)


def test_trying_the_interface_runs_and_asks_nothing_but_our_own(cast: Cast, window: Window) -> None:
    page = window(cast.alice, 1280, 800).new_page()
    complaints, asked = list[str](), list[str]()
    page.on("console", lambda said: complaints.append(said.text) if said.type == "error" else None)
    page.on("request", lambda request: asked.append(request.url))

    page.goto("/api/docs/try/")
    page.get_by_text("/api/v1/yards/", exact=True).click()
    page.get_by_role("button", name="Try it out").click()
    page.get_by_role("button", name="Execute").click()
    page.get_by_text("Home yard").first.wait_for()

    assert complaints == []
    ours = page.url.split("/api/")[0]
    assert [url for url in asked if not url.startswith((ours, "data:", "blob:"))] == []
