"""Two hundred counts through a bad day, and a browser killed while it saves: each is counted once or says why not."""

import datetime as dt
import os
import random
import signal
import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.cache import cache
from playwright.sync_api import Error, Page, Route, expect
from playwright.sync_api import TimeoutError as Deaf

from apiaries.models import Person
from counts.models import MiteSample
from tests.browser.conftest import CHROMIUM, FLAGS
from tests.browser.counting import (
    PHONE,
    Window,
    address,
    begun,
    box,
    colonies,
    counted_before,
    noted,
    queued,
    sending,
    today,
)
from tests.cast import Cast
from tests.faults.machinery import FIGURE, Figure

pytestmark = [
    pytest.mark.slow,
    pytest.mark.django_db(transaction=True),
    pytest.mark.usefixtures("reference"),
]
ENTRIES = int(os.environ.get("COUNTING_ENTRIES", "200"))
KILLS = int(os.environ.get("COUNTING_KILLS", "5"))
SEED = 20261128


def note_figure(request: pytest.FixtureRequest, figure: Figure) -> None:
    request.node.user_properties.append((FIGURE, figure.row))


class BadDay:
    """What happens to a post: mostly it goes through; else the server, the network or the way back fails."""

    def __init__(self, dice: random.Random) -> None:
        self.dice, self.over, self.posts, self.failed = dice, False, 0, 0

    def answer(self, route: Route) -> None:
        self.posts += 1
        ways = [self._pass, self._refuse, self._portal, self._cut, self._lose, self._drop]
        number = 0 if self.over else self.dice.choices(range(6), [9, 2, 1, 2, 4, 2])[0]
        self.failed += number > 0
        with suppress(Error):  # the tab may be gone meanwhile
            ways[number](route)

    def _pass(self, route: Route) -> None:
        route.continue_()

    def _drop(self, route: Route) -> None:
        route.abort()

    def _refuse(self, route: Route) -> None:
        route.fulfill(status=500, body="no")

    def _portal(self, route: Route) -> None:
        route.fulfill(status=200, content_type="text/html", body="<h1>Sign in to this network</h1>")

    def _cut(self, route: Route) -> None:
        told = route.fetch().text()
        route.fulfill(status=200, content_type="application/json", body=told[: len(told) // 2])

    def _lose(self, route: Route) -> None:
        route.fetch()
        route.abort("timedout")


class Phone:
    """Two tabs of one phone, and what can happen to them."""

    def __init__(self, window: Window, cast: Cast, day: BadDay) -> None:
        self.context = window(cast.alice, *PHONE)
        self.context.set_default_timeout(30_000)
        self.context.route(sending(cast), day.answer)
        self.cast, self.dice, self.offline, self.gone = cast, day.dice, False, None
        self.tabs = [begun(self.context.new_page(), address(cast)) for _ in range(2)]

    def befalls(self) -> None:
        happens = [self.flip, self.crash, self.sign_out_or_in, self.send_in_both, self.wait]
        self.dice.choices(happens, [3, 1, 1, 4, 4])[0]()
        self.tabs[0].wait_for_timeout(100)  # posts are under way when the next thing happens

    def flip(self) -> None:
        self.offline = not self.offline
        self.context.set_offline(self.offline)

    def crash(self) -> None:
        if self.gone:
            return  # a page that is not kept any more cannot be opened anew
        number = self.dice.randrange(2)
        with suppress(Error):
            self.tabs[number].goto("chrome://crash", timeout=3000)
        self.tabs[number].close()
        self.tabs[number] = begun(self.context.new_page(), address(self.cast), kept=False)

    def sign_out_or_in(self) -> None:
        if self.gone:
            self.context.add_cookies([self.gone])
            self.gone = None
            return
        cookies = self.context.cookies()
        self.gone = next(one for one in cookies if one["name"] == settings.SESSION_COOKIE_NAME)
        self.context.clear_cookies(name=settings.SESSION_COOKIE_NAME)

    def send_in_both(self) -> None:
        for tab in self.tabs:
            send_now(tab)

    def wait(self) -> None:
        self.tabs[0].wait_for_timeout(self.dice.choice([20, 200, 600]))

    def recovers(self) -> None:
        if self.gone:
            self.sign_out_or_in()
        self.context.set_offline(False)
        until = time.monotonic() + 90
        while any("refused" not in one for one in queued(self.tabs[0])):
            assert time.monotonic() < until, self.tabs[0].locator("[data-sent]").inner_text()
            self.send_in_both()
            self.tabs[0].wait_for_timeout(500)


def send_now(page: Page) -> None:
    page.locator("[data-send]").dispatch_event("click")


def test_two_hundred_counts_on_a_bad_day_arrive_once_or_say_why_not(
    cast: Cast, window: Window, request: pytest.FixtureRequest
) -> None:
    cache.clear()
    colonies(cast, 50)
    before = counted_before(cast)
    dice = random.Random(SEED)
    day = BadDay(dice)
    phone = Phone(window, cast, day)
    ahead = (today(cast) + dt.timedelta(days=365)).isoformat()
    places = [(one, back) for back in range(8) for one in cast.alice_yard.colonies.in_reading_order()]
    good: list[str] = []
    bad: list[str] = []
    while len(good) + len(bad) < ENTRIES:
        tab = dice.choice(phone.tabs)
        for _ in range(dice.randint(1, 4)):
            colony, back = places[len(good) + len(bad)]
            facts: dict[str, Any] = {"sampled_on": (today(cast) - dt.timedelta(days=back)).isoformat()}
            spoilt = dice.random() < 0.05
            if spoilt:
                facts |= dice.choice([{"mites": "many"}, {"sampled_on": ahead}])
            (bad if spoilt else good).extend(noted(tab, cast, colony, **facts))
        phone.befalls()
    day.over = True
    cache.clear()
    phone.recovers()

    left = {one["key"]: one["refused"] for one in queued(phone.tabs[0])}
    rows = [str(key) for key in MiteSample.objects.exclude(pk=before.pk).values_list("entry_key", flat=True)]
    lost = {*good, *bad} - {*rows, *left}
    doubled = len(rows) - len(set(rows)) + len({*rows} & {*left})
    figure = Figure(
        "counts on a phone, a bad day",
        len(good) + len(bad),
        len(rows) + len(left),
        doubled,
        len(lost),
        day.posts,
        f"{day.failed} of the posts spoilt; {len(left)} not accepted, each with its reason",
    )
    note_figure(request, figure)
    assert lost == set() and doubled == 0
    assert sorted(rows) == sorted(good) and sorted(left) == sorted(bad)
    assert all("Enter the number of mites" in why or "still to come" in why for why in left.values())
    assert day.failed > 10  # the day was bad indeed
    expect(phone.tabs[0].locator("[data-refused] li")).to_have_count(len(bad))


@contextmanager
def own_chromium(profile: Path) -> Iterator[tuple["subprocess.Popen[bytes]", str]]:
    """A Chromium in a process group of its own, which may be killed outright; its profile outlives it."""
    told = profile / "DevToolsActivePort"
    told.unlink(missing_ok=True)
    flags = [*FLAGS, "--headless=new", "--remote-debugging-port=0", f"--user-data-dir={profile}"]
    flags += ["--no-sandbox"] if os.geteuid() == 0 else []
    process = subprocess.Popen(
        [str(CHROMIUM), *flags], start_new_session=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    try:
        until = time.monotonic() + 30
        while not told.exists() or not told.read_text().strip():
            assert time.monotonic() < until and process.poll() is None, "Chromium did not start"
            time.sleep(0.05)
        yield process, f"http://127.0.0.1:{told.read_text().split()[0]}"
    finally:
        end(process)


@contextmanager
def far_chromium(browser: Any, profile: Path) -> Iterator[tuple["subprocess.Popen[bytes]", Any]]:
    """The same, with a line to it. On a busy machine one may come up deaf after a kill: then it is started again."""
    for again in (True, True, False):
        with own_chromium(profile) as (process, place):
            try:
                far = browser.browser_type.connect_over_cdp(place)
            except Deaf:
                if not again:
                    raise
                continue
            yield process, far
            return


def end(process: "subprocess.Popen[bytes]") -> None:
    with suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGKILL)
    process.wait()


def count_until_killed(page: Page, told: list[tuple[str, int]], dice: random.Random) -> None:
    """Save count after count; what was told to be on the phone goes into `told`."""
    while True:
        name, mites = page.locator("[data-colony]").inner_text(), dice.randint(0, 3)
        box(page).fill(str(mites))
        page.wait_for_timeout(510)
        page.get_by_role("button", name="Save, next colony").click()
        expect(page.locator("[data-last] li").first).to_contain_text(f"{name}: {mites} ")
        told.append((name.removeprefix("Colony "), mites))


def test_o3_browser_killed_while_saving_loses_nothing_it_told_to_be_saved(
    cast: Cast,
    browser: Any,
    live_server: Any,
    client_for: Callable[[Person | None], Any],
    tmp_path: Path,
    request: pytest.FixtureRequest,
) -> None:
    cache.clear()
    colonies(cast, 200)
    before = counted_before(cast)
    dice = random.Random(SEED)
    session = client_for(cast.alice).cookies[settings.SESSION_COOKIE_NAME].value
    cookie = {"name": settings.SESSION_COOKIE_NAME, "value": session, "url": live_server.url}
    url = live_server.url + address(cast)
    told: list[tuple[str, int]] = []

    def opened(far: Any, *, offline: bool, first: bool) -> Page:
        context = far.contexts[0]
        context.add_cookies([cookie])
        page = context.new_page()
        page.set_default_timeout(15_000)
        if first:
            begun(page, url)
        context.set_offline(offline)
        return begun(page, url, kept=False)

    for kill in range(KILLS):
        with far_chromium(browser, tmp_path) as (process, far):
            page = opened(far, offline=kill % 2 == 1, first=kill == 0)
            killer = threading.Timer(dice.uniform(0.6, 4), end, [process])
            killer.start()
            with suppress(Error, AssertionError):  # whatever fails first once the browser is gone
                count_until_killed(page, told, dice)
            killer.join()
    with far_chromium(browser, tmp_path) as (_, far):
        page = opened(far, offline=False, first=False)
        until = time.monotonic() + 30
        while queued(page):
            assert time.monotonic() < until, page.locator("[data-sent]").inner_text()
            page.wait_for_timeout(200)
        assert [(one["label"], one.get("refused")) for one in queued(page)] == []

    fresh = MiteSample.objects.standing().exclude(pk=before.pk)
    rows = list(fresh.values_list("colony__name", "mites"))
    lost = [one for one in told if one not in rows]
    doubled = len(rows) - len({name for name, _ in rows})
    note = f"{len(rows) - len(told)} more were saved at the very moment of the kill"
    figure = Figure(
        "counts on a phone, browser killed", len(told), len(rows), doubled, len(lost), KILLS, note
    )
    note_figure(request, figure)
    assert told and lost == [] and doubled == 0
    assert len(rows) - len(told) <= KILLS
