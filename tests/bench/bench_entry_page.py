"""How soon the count page is of use on a slow phone, and how fast a backlog goes out over a weak link.

Run on request, against a running demo, which serves compressed as a real site does:

    PORT=8021 make demo
    .venv/bin/python -m tests.bench.bench_entry_page http://127.0.0.1:8021

The processor is slowed 4 times and the network held at 400 kbit/s by Chromium itself. "Of use" is the first frame that
shows a colony with its boxes, ready to be pressed. Exit status 1 if a bar is missed.
"""

import shutil
import sys
import time
from typing import Any

from playwright.sync_api import BrowserContext, Page, sync_playwright

from config.demo.scenario import PASSWORD

RUNS = 5
SLOWER = 4
KBIT = 400
COLD, WARM = 2.5, 1.0  # seconds: first useful paint
WEAK_WARM, WEAK_SYNC, BATCH = (
    5.0,
    60.0,
    0.5,
)  # seconds, with 400 ms there and back; a batch of 50 on the server
USEFUL = """() => new Promise((resolve) => {
    const look = () => {
        const ready = document.querySelector("form[data-ready] [data-one]:not([hidden])");
        if (ready) requestAnimationFrame(() => requestAnimationFrame(() => resolve(performance.now())));
        else setTimeout(look, 5);
    };
    look();
})"""
FIRST = "() => performance.getEntriesByName('first-contentful-paint')[0]?.startTime ?? 0"
WEIGHT = "() => performance.getEntries().reduce((sum, one) => sum + (one.transferSize ?? 0), 0)"
# Those that are asked about (the demo's yard has counts of its own) have their answer too: they wait for the keeper.
ANSWERED = "() => !/waiting to send/.test(document.querySelector('[data-sent]').textContent)"
BATCHES = """() => performance.getEntriesByType("resource")
    .filter((one) => one.name.endsWith("/counts/send/")).map((one) => one.duration)"""
FILL = """async (number) => {
    const { v, person, url, state } = JSON.parse(document.getElementById("counting-data").textContent);
    const DAY = 86400000;
    for (let n = 0; n < number; n += 1) {
        const back = 30 + Math.floor(n / state.colonies.length);
        const body = {
            v, colony: state.colonies[n % state.colonies.length].id, at: new Date().toISOString(),
            sampled_on: new Date(Date.now() - back * DAY).toISOString().slice(0, 10), day_by_clock: false,
            method: "alcohol_wash", bees_how: "half_cup", mites: "2", brood: "unknown",
        };
        await window.recount.queue.add({ person, url, kind: "count", page: location.pathname, label: `${n}`, body });
    }
}"""


def signed_in(browser: Any, site: str) -> tuple[BrowserContext, str]:
    """A phone with the keeper signed in, and the address of the count page of the first yard."""
    context = browser.new_context(base_url=site, viewport={"width": 390, "height": 844}, has_touch=True)
    page = context.new_page()
    page.goto("/account/login/")
    page.fill("input[name=login]", "keeper@example.org")
    page.fill("input[name=password]", PASSWORD)
    page.keyboard.press("Enter")
    page.wait_for_url(lambda url: "login" not in url)
    page.goto("/yards/")
    yards = [link.get_attribute("href") for link in page.locator("main a[href^='/yards/']").all()]
    yard = next(one for one in yards if one and one.count("/") == 3 and one.split("/")[2].isdigit())
    page.close()
    return context, f"{yard}counts/new/"


def slowed(page: Page, *, latency: int = 0, kbit: int = KBIT) -> Any:
    devtools = page.context.new_cdp_session(page)
    devtools.send("Network.enable")
    bytes_each_second = kbit * 1000 / 8
    network = {"offline": False, "latency": latency, "downloadThroughput": bytes_each_second}
    devtools.send("Network.emulateNetworkConditions", network | {"uploadThroughput": bytes_each_second})
    devtools.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    return devtools


def times_of(page: Page, url: str) -> tuple[float, float]:
    """Seconds until anything, and until the page is of use, from the moment it was asked for."""
    page.goto(url, wait_until="commit")
    useful = page.evaluate(USEFUL) / 1000
    return page.evaluate(FIRST) / 1000, useful


def middle(values: list[float]) -> float:
    return sorted(values)[len(values) // 2]


def cold(browser: Any, site: str, *, latency: int = 0) -> tuple[float, float, int]:
    firsts, usefuls, weight = [], [], 0
    for _ in range(RUNS):
        context, url = signed_in(browser, site)
        page = context.new_page()
        devtools = slowed(page, latency=latency)
        devtools.send("Network.clearBrowserCache")
        first, useful = times_of(page, url)
        firsts.append(first)
        usefuls.append(useful)
        weight = page.evaluate(WEIGHT)
        context.close()
    return middle(firsts), middle(usefuls), weight


def kept(browser: Any, site: str) -> tuple[float, float]:
    """From the service worker, without a network."""
    context, url = signed_in(browser, site)
    page = context.new_page()
    page.goto(url)
    page.get_by_text("This page is kept on this phone").wait_for()
    context.set_offline(True)
    page.close()
    found = []
    for _ in range(RUNS):
        page = context.new_page()
        slowed(page)
        context.set_offline(True)
        found.append(times_of(page, url))
        page.close()
    context.close()
    return middle([first for first, _ in found]), middle([useful for _, useful in found])


def backlog(browser: Any, site: str, number: int, *, weak: bool) -> tuple[float, list[float]]:
    """Seconds until so many counts are out (weak: 400 kbit/s, 400 ms there and back), and those of each batch."""
    context, url = signed_in(browser, site)
    page = context.new_page()
    page.goto(url)
    page.locator("form[data-ready]").wait_for()
    context.set_offline(True)
    page.evaluate(FILL, number)
    context.set_offline(False)
    if weak:
        slowed(page, latency=400)
    page.evaluate("() => performance.clearResourceTimings()")
    since = time.perf_counter()
    page.locator("[data-send]").dispatch_event("click")
    page.wait_for_function(ANSWERED, timeout=120_000)
    took = time.perf_counter() - since
    batches = page.evaluate(BATCHES)
    context.close()
    return took, sorted(one / 1000 for one in batches)[-(-number // 50) * -1 :]


def main() -> int:
    site = sys.argv[1]
    missed = 0

    def told(what: str, seconds: float, bar: float | None = None) -> None:
        nonlocal missed
        missed += bar is not None and seconds > bar
        print(f"{what}: {seconds:.2f} s" + (f" (bar {bar} s)" if bar else ""))

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--disable-gpu", "--no-sandbox"]
        )
        first, useful, weight = cold(browser, site)
        told("cold, anything painted", first)
        told("cold, of use", useful, COLD)
        print(f"bytes on the wire when it is of use: {weight}")
        first, useful = kept(browser, site)
        told("from the service worker, anything painted", first)
        told("from the service worker, of use", useful, WARM)
        _, useful, _ = cold(browser, site, latency=400)
        told("cold with 400 ms there and back, of use", useful)
        told("50 counts over the weak link", backlog(browser, site, 50, weak=True)[0], WEAK_SYNC)
        took, batches = backlog(browser, site, 500, weak=False)
        told("500 counts", took)
        told("slowest of their ten batches", max(batches), BATCH)
        told("the middle one", middle(batches))
        browser.close()
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
