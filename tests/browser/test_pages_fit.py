"""Pages fit from the narrowest phone to the desk, run no script but ours, and ask nobody else for a byte."""

import pytest

from tests.access.world import make_world
from tests.browser.pages import WHO, Window, addresses
from tests.cast import Cast

pytestmark = [pytest.mark.slow, pytest.mark.django_db(transaction=True)]

WIDTHS = (320, 390, 1280, 1600)
# As WCAG 2.2 wants it in success criterion 1.4.4, Resize Text.
TWICE = """() => {
    const root = document.documentElement;
    root.style.fontSize = `${2 * parseFloat(getComputedStyle(root).fontSize)}px`;
}"""
# Wider than the window: what a reader would have to push sideways.
OVERFLOW = """() => document.documentElement.scrollWidth - document.documentElement.clientWidth"""


@pytest.mark.parametrize("person", WHO)
def test_pages_fit_and_run_only_our_own(cast: Cast, reference: None, window: Window, person: str) -> None:
    world = make_world(cast)
    context = window(None if person == "stranger" else getattr(cast, person), 1280, 800)
    page = context.new_page()
    complaints: list[str] = []
    page.on("console", lambda message: complaints.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on("request", lambda request: _own(request.url, complaints))
    too_wide = []

    for address in addresses(world, person):
        page.goto(address)
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": 800})
            if page.evaluate(OVERFLOW) > 0:
                too_wide.append((address, width))
        page.set_viewport_size({"width": 1280, "height": 800})
        page.evaluate(TWICE)
        if page.evaluate(OVERFLOW) > 0:
            too_wide.append((address, "letters twice as large"))

    assert too_wide == []
    assert complaints == []


def _own(url: str, complaints: list[str]) -> None:
    if not url.startswith(("http://localhost", "http://127.0.0.1", "data:")):
        complaints.append(f"asked for {url}")
