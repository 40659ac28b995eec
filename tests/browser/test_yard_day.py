"""The treatment day on a phone in a real browser: without a network, over a reload, with undo, twice, signed out."""

import datetime as dt
import json
import re
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.urls import reverse
from playwright.sync_api import BrowserContext, Page, expect

from apiaries.actions import add_numbered_colonies
from apiaries.models import Person
from tests.browser.counting import queued
from tests.cast import STARTED, Cast
from treatments.actions import NewDose, NewRound, NewTreatment, give_round
from treatments.day_actions import NewHive, NewSheet, plan_day
from treatments.device_actions import add_device
from treatments.models import Application, DaySheet, SheetMark

pytestmark = [pytest.mark.slow, pytest.mark.django_db(transaction=True)]
Window = Callable[[Person | None, int, int], BrowserContext]

CASES = json.loads((Path(__file__).parent.parent / "treatments" / "open_from.json").read_text())
MADE = dt.datetime.now(dt.UTC).replace(second=0, microsecond=0) - dt.timedelta(hours=9)
BEGINS = MADE + dt.timedelta(
    minutes=30
)  # the phone's clock when the page is opened; nothing ticked lies in the future
TRIAL = {
    "name": "pan",
    "tried_on": MADE.date(),
    "first_minutes": Decimal(10),
    "following_minutes": Decimal(7),
    "cool_minutes": Decimal(2),
}
HIVES = 12
STAGE = {"Start": "started", "Heater out": "drawn"}
KEPT = "This page is kept on this phone"


@pytest.fixture
def sheet(cast: Cast, reference: None) -> DaySheet:
    """A day with oxalic vapour for twelve hives with one timed heater, planned through the actions."""
    add_numbered_colonies(yard=cast.alice_yard, first=7, last=HIVES, started_on=STARTED, by=cast.alice)
    device = add_device(keeper=cast.alice, facts=TRIAL, at=MADE, by=cast.alice)
    colonies = sorted(cast.alice_yard.colonies.all(), key=lambda one: int(one.name))
    new = NewSheet(
        starts_at=dt.time(9, 30),
        hives=tuple(NewHive(colony=one, amount=Decimal(2)) for one in colonies),
        wait_minutes=Decimal(5),
        sealed_minutes=Decimal(15),
        device=device,
    )
    way = Application.objects.get(key="oxalic_vapour_us")
    rounds = (NewRound(planned_on=MADE.date()),)
    planned = NewTreatment(yard=cast.alice_yard, application=way, rounds=rounds)
    treatment = plan_day(new=planned, sheet=new, at=MADE, by=cast.alice)
    return DaySheet.objects.get(round__treatment=treatment)


def address(sheet: DaySheet) -> str:
    return reverse("treatments:round-yard", args=[sheet.round.treatment_id, sheet.round.number])


def opened(window: Window, person: Person, sheet: DaySheet, *, at: dt.datetime = BEGINS) -> Page:
    """The page on a phone whose clock is ours, once it is kept for no network."""
    page = window(person, 390, 844).new_page()
    page.set_default_timeout(15_000)
    page.clock.install(time=at)
    page.goto(address(sheet))
    expect(page.locator("[data-kept]")).to_contain_text(KEPT)
    return page


def card(page: Page, name: object) -> Any:
    return page.get_by_role("listitem").filter(
        has=page.get_by_role("heading", name=f"Colony {name}", exact=True)
    )


def pass_time(page: Page, **span: float) -> None:
    page.clock.fast_forward(int(dt.timedelta(**span).total_seconds() * 1000))


def press(page: Page, name: object, button: str) -> None:
    """Press a big button of a hive; once its tick is shown, let the rest after it pass."""
    card(page, name).get_by_role("button", name=re.compile(f"^{button}")).click()
    if button in STAGE:
        expect(card(page, name)).to_have_attribute("data-stage", STAGE[button])
    pass_time(page, seconds=1)


def send_now(page: Page) -> None:
    """Press the button; it is gone meanwhile if the page itself was quicker."""
    page.locator("[data-send]").dispatch_event("click")


def waits(page: Page, number: int) -> None:
    expect(page.locator("[data-sent]")).to_contain_text(
        f"{number} waiting to send" if number else "All saved"
    )


def standing() -> list[tuple[str, str]]:
    marks = SheetMark.objects.filter(undone_at=None).select_related("hive__colony")
    return sorted((mark.hive.colony.name, mark.step) for mark in marks)


def test_phone_reckons_as_the_server_does(cast: Cast, sheet: DaySheet, window: Window) -> None:
    page = opened(window, cast.alice, sheet)
    found = page.evaluate(
        """(cases) => cases.map(({ minutes, ticks }) => {
            const moment = (clock) => clock ? Date.parse(`2026-08-12T${clock}Z`) : null;
            const clock = (moment) => moment === null ? null : new Date(moment).toISOString().slice(11, 19);
            const told = ticks.map((one) => ({
                hive: one.hive, loads: one.loads,
                started: moment(one.started), drawn: moment(one.drawn), opened: moment(one.opened),
            }));
            return Object.fromEntries([...window.recount.openTimes(told, minutes)]
                .map(([hive, times]) => [String(hive), [clock(times.drawFrom), clock(times.openFrom)]]));
        })""",
        CASES,
    )

    assert found == [case["times"] for case in CASES]


def test_twelve_hives_without_a_network_arrive_once(cast: Cast, sheet: DaySheet, window: Window) -> None:
    page = opened(window, cast.alice, sheet)
    page.context.set_offline(True)
    page.reload()
    expect(page.get_by_role("heading", name="In the yard: Home yard")).to_be_visible()

    for number in range(1, HIVES + 1):
        expect(page.locator("[data-next=yes] h3")).to_have_text(f"Colony {number}")
        press(page, number, "Start")
        pass_time(page, minutes=12 if number > 1 else 15)
        press(page, number, "Heater out")
    pass_time(page, minutes=16)
    for number in range(1, HIVES + 1):
        press(page, number, "Opened")
        expect(card(page, number)).to_have_attribute("data-stage", "opened")
    expect(page.locator("[data-all-over]")).to_be_visible()
    press(page, 12, "Undo")
    expect(card(page, 12)).to_contain_text("Shut, heater out")
    waits(page, 3 * HIVES + 1)

    page.reload()
    waits(page, 3 * HIVES + 1)
    expect(card(page, 12)).to_contain_text("Open now")
    told = {entry["key"]: entry["body"] for entry in queued(page)}
    assert SheetMark.objects.count() == 0
    page.context.set_offline(False)
    waits(page, 0)

    assert queued(page) == []
    marks = list(SheetMark.objects.select_related("hive__colony"))
    assert len(marks) == 3 * HIVES
    for mark in marks:
        body = told[str(mark.entry_key)]
        assert (mark.hive_id, mark.step) == (body["hive"], body["step"])
        assert mark.at == dt.datetime.fromisoformat(body["at"])
    undone = [(mark.hive.colony.name, mark.step) for mark in marks if mark.undone_at is not None]
    assert undone == [("12", "opened")]


def test_several_hives_run_at_once_and_what_is_due_comes_first(
    cast: Cast, sheet: DaySheet, window: Window
) -> None:
    page = opened(window, cast.alice, sheet)
    press(page, 1, "Start")
    expect(page.locator("[data-next=yes] h3")).to_have_text("Colony 2")
    waits(page, 0)
    draw = SheetMark.objects.get().at + dt.timedelta(minutes=15)
    expect(card(page, 1)).to_contain_text(f"Heater out from {_yard(draw)}, in")
    pass_time(page, minutes=3)
    press(page, 2, "Start")
    pass_time(page, minutes=13)
    press(page, 1, "Heater out")
    pass_time(page, minutes=4)
    press(page, 3, "Start")
    waits(page, 0)

    names = page.locator("[data-todo] h3")
    expect(names.nth(0)).to_have_text("Colony 2")  # its heater may come out
    expect(card(page, 2)).to_contain_text("Heater out now")
    expect(names.nth(1)).to_have_text("Colony 4")  # the next to start
    expect(names.nth(2)).to_have_text("Colony 1")
    out = SheetMark.objects.get(hive__colony__name="1", step="drawn").at
    began = SheetMark.objects.get(hive__colony__name="1", step="started").at
    end = max(out - dt.timedelta(minutes=5), began + dt.timedelta(minutes=10))
    expect(card(page, 1)).to_contain_text(f"Open from {_yard(end + dt.timedelta(minutes=15))}, in")
    expect(card(page, 1).locator("[data-left]")).to_have_text(re.compile(r"^\d+:\d\d$"))


def _yard(moment: dt.datetime) -> str:
    """A moment on the yard's clock, at the next full minute."""
    more = dt.timedelta(seconds=59, microseconds=999_999)
    return f"{(moment + more).astimezone(ZoneInfo('Europe/Berlin')):%H:%M}"


def test_opening_too_early_is_asked_about(cast: Cast, sheet: DaySheet, window: Window) -> None:
    page = opened(window, cast.alice, sheet)
    press(page, 1, "Start")
    pass_time(page, minutes=15)
    press(page, 1, "Heater out")
    press(page, 1, "Opened")
    expect(card(page, 1)).to_contain_text("It is to stay shut until")
    card(page, 1).get_by_role("button", name="No, still shut").click()
    assert ("1", "opened") not in standing()
    press(page, 1, "Opened")
    card(page, 1).get_by_role("button", name="Yes, it is open").click()
    expect(card(page, 1)).to_have_attribute("data-stage", "opened")
    waits(page, 0)

    assert ("1", "opened") in standing()


def test_two_phones_at_one_hive_count_once(cast: Cast, sheet: DaySheet, window: Window) -> None:
    alices, bobs = opened(window, cast.alice, sheet), opened(window, cast.bob, sheet)
    bobs.context.set_offline(True)
    press(bobs, 1, "Start")
    waits(bobs, 1)
    pass_time(alices, minutes=1)
    press(alices, 1, "Start")
    waits(alices, 0)
    bobs.context.set_offline(False)
    waits(bobs, 0)

    mark = SheetMark.objects.get()
    assert mark.recorded_by == cast.alice
    press(bobs, 1, "Undo")  # what stands there now is the other phone's tick
    expect(card(bobs, 1)).to_have_attribute("data-stage", "waiting")
    waits(bobs, 0)
    mark.refresh_from_db()
    assert mark.undone_by == cast.bob


def test_second_tab_shows_and_counts_what_the_first_ticked(
    cast: Cast, sheet: DaySheet, window: Window
) -> None:
    page = opened(window, cast.alice, sheet)
    second = page.context.new_page()
    second.clock.install(time=BEGINS)
    second.goto(address(sheet))
    expect(second.locator("[data-kept]")).to_contain_text(KEPT)
    press(page, 1, "Start")

    expect(card(second, 1)).to_contain_text("Shut, heater in")
    waits(second, 0)
    assert standing() == [("1", "started")]


def test_left_out_with_a_remark_by_keyboard_alone(cast: Cast, sheet: DaySheet, window: Window) -> None:
    page = opened(window, cast.alice, sheet)
    one = card(page, 1)
    one.get_by_role("button", name=re.compile("^Left out")).focus()
    page.keyboard.press("Enter")
    expect(one.get_by_label("Why was it left out?")).to_be_focused()
    page.keyboard.type("queenless")
    page.keyboard.press("Enter")
    expect(one).to_contain_text("queenless")
    expect(one.get_by_role("heading")).to_be_focused()
    pass_time(page, seconds=1)
    page.keyboard.press("Tab")
    expect(one.get_by_role("button", name=re.compile("^Undo"))).to_be_focused()
    waits(page, 0)
    assert SheetMark.objects.get().remark == "queenless"

    page.keyboard.press("Enter")
    expect(page.locator("[data-next=yes] h3")).to_have_text("Colony 1")
    waits(page, 0)
    assert standing() == []


def test_second_tap_at_once_hits_no_other_hive(cast: Cast, sheet: DaySheet, window: Window) -> None:
    page = opened(window, cast.alice, sheet)
    page.clock.pause_at(BEGINS + dt.timedelta(hours=1))
    start = card(page, 1).get_by_role("button", name=re.compile("^Start"))
    start.scroll_into_view_if_needed()
    box = start.bounding_box()
    middle = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.touchscreen.tap(*middle)
    expect(page.locator("[data-next=yes] h3")).to_have_text("Colony 2")
    page.touchscreen.tap(*middle)
    page.clock.run_for(2000)
    waits(page, 0)

    assert standing() == [("1", "started")]


def test_signed_out_keeps_the_queue_and_sends_it_after_signing_in(
    cast: Cast, sheet: DaySheet, window: Window
) -> None:
    page = opened(window, cast.alice, sheet)
    cookies = page.context.cookies()
    page.context.clear_cookies(name="sessionid")
    press(page, 1, "Start")
    expect(page.locator("[data-sent]")).to_contain_text("You are signed out")
    waits(page, 1)
    assert SheetMark.objects.count() == 0

    page.context.add_cookies([one for one in cookies if one["name"] == "sessionid"])
    expect(page.get_by_role("button", name="Send now")).to_be_visible()
    expect(page.get_by_role("link", name="Sign in")).to_be_visible()
    send_now(page)
    waits(page, 0)
    assert standing() == [("1", "started")]


def test_another_person_on_the_phone_sends_nothing_of_the_first(
    cast: Cast, sheet: DaySheet, window: Window, client_for: Callable[[Person | None], Any]
) -> None:
    page = opened(window, cast.alice, sheet)
    page.context.set_offline(True)
    press(page, 1, "Start")
    session = client_for(cast.bob).cookies["sessionid"].value
    mine = next(one for one in page.context.cookies() if one["name"] == "sessionid")
    page.context.add_cookies([mine | {"value": session}])
    page.context.set_offline(False)
    expect(page.locator("[data-sent]")).to_contain_text("Somebody else is signed in")

    page.reload()  # now it is Bob's page
    expect(page.locator("[data-problem]")).to_contain_text("1 waiting to send from another person")
    waits(page, 0)
    assert SheetMark.objects.count() == 0 and len(queued(page)) == 1


def test_refused_ticks_stay_to_be_seen_with_their_reason(cast: Cast, sheet: DaySheet, window: Window) -> None:
    page = opened(window, cast.alice, sheet)
    page.context.set_offline(True)
    press(page, 1, "Start")
    dose = NewDose(cast.colonies[0], Decimal(2))
    give_round(round_=sheet.round, given_on=MADE.date(), doses=[dose], at=MADE, by=cast.bob)
    page.context.set_offline(False)

    refused = page.locator("[data-refused]")
    expect(refused).to_contain_text("Colony 1, started")
    expect(refused).to_contain_text("noted as given")
    page.reload()
    expect(refused).to_contain_text("noted as given")
    refused.get_by_role("button", name="Take it off").click()
    expect(refused).to_be_hidden()
    assert queued(page) == [] and SheetMark.objects.count() == 0


@pytest.mark.parametrize("answer", ["fault", "portal", "half", "nothing"])
def test_answer_that_is_none_loses_no_tick(cast: Cast, sheet: DaySheet, window: Window, answer: str) -> None:
    page = opened(window, cast.alice, sheet)
    answers = {
        "fault": {"status": 502, "body": "<h1>Bad gateway</h1>"},
        "portal": {"status": 200, "body": "<h1>Welcome to our network</h1>"},
        "half": {"status": 200, "body": '{"answers": [{"key"'},
        "nothing": {"status": 200, "body": '{"answers": []}'},
    }
    page.route("**/marks/", lambda route: route.fulfill(**answers[answer]))
    press(page, 1, "Start")
    waits(page, 1)
    assert len(queued(page)) == 1

    page.unroute("**/marks/")
    send_now(page)
    waits(page, 0)
    assert standing() == [("1", "started")]


def test_answer_lost_on_the_way_back_counts_once(cast: Cast, sheet: DaySheet, window: Window) -> None:
    page = opened(window, cast.alice, sheet)

    def lose(route: Any) -> None:
        route.fetch()  # it arrives, and its answer is lost
        route.abort()

    page.route("**/marks/", lose)
    press(page, 1, "Start")
    expect(page.locator("[data-sent]")).to_contain_text("No network")
    assert SheetMark.objects.count() == 1
    page.unroute("**/marks/")
    send_now(page)
    waits(page, 0)

    assert SheetMark.objects.count() == 1 and queued(page) == []


def test_tick_that_cannot_be_stored_is_not_shown(cast: Cast, sheet: DaySheet, window: Window) -> None:
    page = opened(window, cast.alice, sheet)
    page.evaluate(
        """() => { IDBObjectStore.prototype.add = () => { throw new DOMException("full", "QuotaExceededError"); }; }"""
    )
    card(page, 1).get_by_role("button", name=re.compile("^Start")).click()

    expect(page.locator("[data-problem]")).to_contain_text("Write it on the printed sheet")
    expect(card(page, 1)).to_contain_text("Not begun")
    assert SheetMark.objects.count() == 0


def test_signing_out_asks_while_something_waits_and_then_clears(
    cast: Cast, sheet: DaySheet, window: Window
) -> None:
    page = opened(window, cast.alice, sheet)
    page.route("**/marks/", lambda route: route.abort())
    press(page, 1, "Start")
    waits(page, 1)

    def sign_out() -> None:
        page.locator("details.account summary").click()
        page.get_by_role("button", name="Sign out", exact=True).click()

    sign_out()
    expect(page.get_by_role("dialog")).to_contain_text("1 entry was not sent. Sign out all the same?")
    page.get_by_role("button", name="Stay signed in").click()
    assert len(queued(page)) == 1
    sign_out()
    page.get_by_role("button", name="Sign out, throw them away").click()
    page.wait_for_url(lambda url: "/yard/" not in url)

    assert queued(page) == []
    assert [name for name in page.evaluate("caches.keys()") if not name.startswith("files-")] == []
    page.context.set_offline(True)
    with pytest.raises(Exception, match="ERR_INTERNET_DISCONNECTED|ERR_FAILED"):
        page.goto(address(sheet))


def test_signing_out_sends_first_and_then_asks_nothing(cast: Cast, sheet: DaySheet, window: Window) -> None:
    page = opened(window, cast.alice, sheet)
    page.context.set_offline(True)
    press(page, 1, "Start")
    waits(page, 1)
    page.route("**/marks/", lambda route: route.abort())
    page.context.set_offline(False)
    page.goto(reverse("account_logout"))
    page.unroute("**/marks/")
    page.get_by_role("main").get_by_role("button", name="Sign out").click()
    page.wait_for_url(lambda url: "logout" not in url)

    assert standing() == [("1", "started")]


def test_worker_keeps_the_opened_page_and_its_files_and_nothing_else(
    cast: Cast, sheet: DaySheet, window: Window
) -> None:
    page = opened(window, cast.alice, sheet)
    for name in ("apiaries:yard-list", "treatments:treatment-list"):
        page.goto(reverse(name))
    page.goto(reverse("treatments:round-sheet", args=[sheet.round.treatment_id, 1]))
    page.get_by_role("link", name="In the yard").click()
    expect(page.locator("[data-kept]")).to_contain_text(KEPT)
    kept = page.evaluate(
        """async () => {
            const found = {};
            for (const name of await caches.keys()) {
                const cache = await caches.open(name);
                const paths = (await cache.keys()).map((one) => new URL(one.url).pathname);
                (found[name.split("-")[0]] ??= []).push(...paths);
            }
            return found;
        }"""
    )
    needed = page.evaluate(
        """() => [...document.querySelectorAll("script[src], link[href]")]
            .map((one) => new URL(one.src || one.href).pathname)"""
    )

    assert kept["pages"] == [address(sheet)]
    assert set(kept["files"]) >= set(needed)


def test_buttons_are_big_and_nothing_is_too_wide(cast: Cast, sheet: DaySheet, window: Window) -> None:
    page = opened(window, cast.alice, sheet)
    complaints: list[str] = []
    page.on("console", lambda message: complaints.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    press(page, 1, "Start")
    pass_time(page, minutes=15)
    press(page, 1, "Heater out")
    press(page, 2, "Left out")
    for width in (320, 390, 1280):
        page.set_viewport_size({"width": width, "height": 844})
        assert (
            page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") == 0
        )
        # All at once: a button may come or go between two questions, also between finding it and measuring it.
        heights = page.evaluate(
            """() => [...document.querySelectorAll("[data-yard] button")]
                .filter(button => button.checkVisibility())
                .map(button => button.getBoundingClientRect().height)"""
        )
        assert len(heights) > HIVES and min(heights) >= 48
    assert complaints == []


def test_seconds_are_not_spoken(cast: Cast, sheet: DaySheet, window: Window) -> None:
    page = opened(window, cast.alice, sheet)
    press(page, 1, "Start")
    waits(page, 0)
    page.evaluate(
        """() => {
            window.spoken = [];
            const place = document.querySelector("[data-said]");
            new MutationObserver(() => window.spoken.push(place.textContent))
                .observe(place, { childList: true, characterData: true, subtree: true });
        }"""
    )
    before = card(page, 1).locator("[data-left]").inner_text()
    for _ in range(5):
        page.clock.run_for(1000)
    assert card(page, 1).locator("[data-left]").inner_text() != before
    assert page.evaluate("window.spoken") == []
    pass_time(page, minutes=16)
    page.clock.run_for(1000)

    assert page.evaluate("window.spoken") == ["Colony 1: heater out now."]


def test_without_javascript_the_page_names_the_printed_sheet(
    cast: Cast, sheet: DaySheet, browser: Any, live_server: Any, client_for: Callable[[Person | None], Any]
) -> None:
    context = browser.new_context(base_url=live_server.url, java_script_enabled=False)
    session = client_for(cast.alice).cookies["sessionid"].value
    context.add_cookies([{"name": "sessionid", "value": session, "url": live_server.url}])
    page = context.new_page()
    page.goto(address(sheet))

    expect(page.get_by_text("Work from the printed sheet")).to_be_visible()
    assert page.locator("[data-step]:visible").count() == 0
    assert page.get_by_role("heading", name="Colony 12").is_visible()
    context.close()
