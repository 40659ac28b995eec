"""What the count page weighs on the wire, and whom it asks: bytes, not times (tests/bench/bench_entry_page.py)."""

import gzip

import pytest
from playwright.sync_api import Response

from tests.browser.counting import PHONE, Window, address, colonies, counted_before
from tests.cast import Cast

pytestmark = [
    pytest.mark.slow,
    pytest.mark.django_db(transaction=True),
    pytest.mark.usefixtures("reference"),
]
HEAVIEST = 150 * 1000  # bytes, compressed


def test_page_and_all_it_needs_stay_under_150_kb_and_come_from_us(cast: Cast, window: Window) -> None:
    colonies(cast, 60)
    counted_before(cast)
    page = window(cast.alice, *PHONE).new_page()
    answers: list[Response] = []
    page.on("response", lambda answer: answers.append(answer))
    page.goto(address(cast))
    page.locator("form[data-ready]").wait_for()
    page.wait_for_load_state("networkidle")

    urls = [answer.url for answer in answers]
    assert [url for url in urls if not url.startswith(("http://localhost:", "http://127.0.0.1:"))] == []
    # The server of tests sends static files as they are; a served site sends what whitenoise compressed alike.
    weights = {one.url.rpartition("/")[2]: len(gzip.compress(one.body())) for one in answers if one.ok}
    assert len(weights) > 8
    assert sum(weights.values()) < HEAVIEST, weights


def test_page_is_sent_compressed(cast: Cast, window: Window) -> None:
    page = window(cast.alice, *PHONE).new_page()
    answer = page.goto(address(cast))

    assert answer is not None and answer.header_value("content-encoding") == "gzip"
