"""The count page over a link that loses one packet in twenty: real packets, in a network of the test's own.

Run on request, as root, on Linux with the database behind a Unix socket, so that only browser and site share the link:

    unshare --net sh -c 'ip link set lo up mtu 1500 gso_max_segs 1
        nft add table inet weak
        nft add chain inet weak lossy "{ type filter hook input priority 0; }"
        nft add rule inet weak lossy numgen random mod 100 "<" 5 drop
        tc qdisc add dev lo root tbf rate 400kbit burst 4k latency 2s
        .venv/bin/python -m pytest -s -q tests/browser/weak_link.py'

The 400 ms there and back are Chromium's own doing: not every kernel can delay packets.
"""

import subprocess
import time

import pytest
from playwright.sync_api import expect

from tests.browser.counting import (
    Window,
    address,
    begun,
    colonies,
    counted_before,
    kept,
    noted,
    opened,
    queued,
)
from tests.cast import Cast

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.usefixtures("reference")]
USABLE, SENT = 5.0, 60.0  # seconds
ROUND_TRIP = 400  # milliseconds


def told(*command: str) -> str:
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout


def test_count_page_and_fifty_counts_over_a_weak_link(cast: Cast, window: Window) -> None:
    shaped = told("tc", "qdisc", "show", "dev", "lo") + told("nft", "list", "ruleset")
    weak = "rate 400Kbit" in shaped and "numgen random mod 100 < 5 drop" in shaped
    assert weak, "Run it as the docstring says: this link is not weak."
    colonies(cast, 50)
    counted_before(cast)
    page = opened(window, cast)
    several = list(cast.alice_yard.colonies.in_reading_order())
    page.close()

    page = page.context.new_page()
    devtools = page.context.new_cdp_session(page)
    devtools.send("Network.enable")
    far = {"offline": False, "latency": ROUND_TRIP, "downloadThroughput": -1, "uploadThroughput": -1}
    devtools.send("Network.emulateNetworkConditions", far)
    since = time.perf_counter()
    begun(page, address(cast), kept=False)
    usable = time.perf_counter() - since

    page.context.set_offline(True)
    noted(page, cast, *several)
    since = time.perf_counter()
    page.context.set_offline(False)
    devtools.send("Network.emulateNetworkConditions", far)
    expect(page.locator("[data-sent]")).to_contain_text("All saved", timeout=120_000)
    sent = time.perf_counter() - since

    print(
        f"\nof use from the service worker: {usable:.2f} s (bar {USABLE}); 50 counts sent: {sent:.1f} s (bar {SENT})"
    )
    assert len(kept()) == 51 and queued(page) == []
    assert usable <= USABLE and sent <= SENT
