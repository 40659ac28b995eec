"""Pages fit from the narrowest phone to the desk, run no script but ours, and ask nobody else for a byte."""

from collections.abc import Callable
from typing import Any

import pytest
from django.urls import reverse
from playwright.sync_api import BrowserContext

from apiaries.models import Person
from tests.access.policy import rows
from tests.access.world import make_world
from tests.cast import Cast

pytestmark = [pytest.mark.slow, pytest.mark.django_db(transaction=True)]

Window = Callable[[Person | None, int, int], BrowserContext]
NO_PAGES = (
    "chart",
    "region-map",
    "healthz",
    "-pdf",
    "-csv",
    "worker",
    "calendar-feed",
)  # pictures, answers to machines, files to keep
WIDTHS = (320, 390, 1280, 1600)
# Wider than the window, by element: what a reader would have to push sideways.
OVERFLOW = """() => document.documentElement.scrollWidth - document.documentElement.clientWidth"""


def _addresses(world: Any, person: str) -> list[str]:
    pages = [row for row in rows() if row[2] == "GET" and row[3][person] == "200"]
    return [
        reverse(name, kwargs=world.arguments(words))
        for name, words, *_ in pages
        if not any(part in name for part in NO_PAGES)
    ]


@pytest.mark.parametrize("person", ["stranger", "alice", "dana", "ines", "adam"])
def test_pages_fit_and_run_only_our_own(cast: Cast, reference: None, window: Window, person: str) -> None:
    world = make_world(cast)
    context = window(None if person == "stranger" else getattr(cast, person), 1280, 800)
    page = context.new_page()
    complaints: list[str] = []
    page.on("console", lambda message: complaints.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on("request", lambda request: _own(request.url, complaints))
    too_wide = []

    for address in _addresses(world, person):
        page.goto(address)
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": 800})
            if page.evaluate(OVERFLOW) > 0:
                too_wide.append((address, width))

    assert too_wide == []
    assert complaints == []


def _own(url: str, complaints: list[str]) -> None:
    if not url.startswith(("http://localhost", "http://127.0.0.1", "data:")):
        complaints.append(f"asked for {url}")
