"""What was saved on a phone is counted once, whatever happens to the network, the server, the phone and its owner.

Numbers O1 to O12 are those of the promises in docs/how-to/count-in-the-yard.md.
"""

import datetime as dt
import json
import re
import uuid
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
from django.core.cache import cache
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import Error, Page, Route, expect

from apiaries.models import Person
from config import offline
from counts.actions import void_sample
from counts.models import MiteSample
from tests.browser.counting import (
    PHONE,
    Window,
    address,
    begun,
    box,
    colonies,
    colony,
    counted_before,
    enter,
    kept,
    noted,
    opened,
    queued,
    sending,
    today,
    waits,
)
from tests.cast import Cast

pytestmark = [
    pytest.mark.slow,
    pytest.mark.django_db(transaction=True),
    pytest.mark.usefixtures("reference"),
]


@pytest.fixture(autouse=True)
def limits(transactional_db: Any) -> None:
    cache.clear()


def send_now(page: Page) -> None:
    page.locator("[data-send]").dispatch_event("click")


def refused(page: Page) -> Any:
    return page.locator("[data-refused] li")


def test_o1_answers_lost_after_saving_count_once(cast: Cast, window: Window) -> None:
    page = opened(window, cast)
    page.locator("label", has_text="Alcohol wash").first.tap()
    lost = 0

    def lose(route: Route) -> None:
        nonlocal lost
        with suppress(Error):  # the last one may be under way when the page closes
            route.fetch()
            lost += 1
            route.abort()

    page.route(sending(cast), lose)
    for mites in (3, 0, 2):
        enter(page, mites)
    for number in range(lost, 5):
        send_now(page)
        while lost <= number:
            page.wait_for_timeout(50)
    waits(page, 3)
    assert kept() == [("1", 3), ("2", 0), ("3", 2)]
    page.unroute(sending(cast))
    send_now(page)
    waits(page, 0)

    assert kept() == [("1", 3), ("2", 0), ("3", 2)] and MiteSample.objects.count() == 3


ANSWERS: dict[str, Callable[[Route], None]] = {
    "500": lambda route: route.fulfill(status=500, body="no"),
    "502": lambda route: route.fulfill(status=502, body="no"),
    "504": lambda route: route.fulfill(status=504, body="no"),
    "413": lambda route: route.fulfill(status=413, json={"error": "too much"}),
    "429": lambda route: route.fulfill(status=429, body="wait"),
    "time-out": lambda route: route.abort("timedout"),
    "portal": lambda route: route.fulfill(status=200, content_type="text/html", body="<h1>Sign in here</h1>"),
    "half": lambda route: route.fulfill(status=200, content_type="application/json", body='{"answers": [{"k'),
    "no keys": lambda route: route.fulfill(status=200, json={"answers": []}),
    "another key": lambda route: route.fulfill(
        status=200, json={"answers": [{"key": str(uuid.uuid4()), "state": "saved"}]}
    ),
}


@pytest.mark.parametrize("answer", ANSWERS)
def test_o2_bad_answer_takes_nothing_from_the_queue(cast: Cast, window: Window, answer: str) -> None:
    counted_before(cast)
    page = opened(window, cast)
    page.route(sending(cast), ANSWERS[answer])
    enter(page, 4)
    waits(page, 1)
    send_now(page)
    expect(page.locator("[data-sent]")).not_to_contain_text("All saved")
    waits(page, 1)
    before = queued(page)
    assert len(before) == 1 and "refused" not in before[0]
    page.unroute(sending(cast))
    send_now(page)
    waits(page, 0)

    assert queued(page) == [] and kept() == [("1", 2), ("1", 4)]


@pytest.mark.parametrize("network", [False, True], ids=["without a network", "with a network"])
def test_o4_one_form_in_two_tabs_is_one_count_and_a_visible_conflict(
    cast: Cast, window: Window, network: bool
) -> None:
    counted_before(cast)
    first = opened(window, cast)
    second = begun(first.context.new_page(), address(cast))
    colony(second, 1)
    first.context.set_offline(not network)
    enter(first, 4)
    if network:
        waits(first, 0)
    box(second).fill("5")
    second.wait_for_timeout(550)
    second.get_by_role("button", name="Save, next colony").tap()
    first.context.set_offline(False)
    expect(refused(second)).to_have_count(1)

    expect(refused(second)).to_contain_text("Colony 1: 5 mites: not accepted.")
    expect(refused(second)).to_contain_text("with other numbers")
    expect(first.locator("[data-sent]")).to_have_text("1 entry not saved: see “Not accepted” above.")
    assert kept() == [("1", 2), ("1", 4)]
    refused(second).get_by_role("button", name="Edit").tap()
    expect(box(second)).to_have_value("5")


def test_o4_same_form_with_the_same_numbers_in_two_tabs_is_one_count(cast: Cast, window: Window) -> None:
    counted_before(cast)
    first = opened(window, cast)
    second = begun(first.context.new_page(), address(cast))
    first.context.set_offline(True)
    enter(first, 4)
    colony(second, 1)
    enter(second, 4)
    first.context.set_offline(False)
    waits(first, 0)

    assert kept() == [("1", 2), ("1", 4)] and refused(first).count() == 0


def test_o5_bad_entry_among_fifty_is_shown_and_mended(cast: Cast, window: Window) -> None:
    colonies(cast, 50)
    counted_before(cast)
    page = opened(window, cast)
    page.context.set_offline(True)
    for number, one in enumerate(cast.alice_yard.colonies.in_reading_order()):
        noted(page, cast, one, mites="many" if number == 25 else "1")
    page.context.set_offline(False)
    expect(refused(page)).to_have_count(1)
    expect(page.locator("[data-sent]")).to_have_text("1 entry not saved: see “Not accepted” above.")
    expect(page.locator("[data-finished]")).to_contain_text("All 50 colonies are entered")
    expect(page.locator("[data-finished]")).to_contain_text("but not all are saved")

    assert len(kept()) == 50
    expect(refused(page)).to_contain_text("Enter the number of mites, even if it is 0.")
    refused(page).get_by_role("button", name="Edit").tap()
    colony(page, 26)
    expect(page.locator("[data-one]")).to_contain_text("Error: Enter the number of mites")
    box(page).fill("2")
    page.get_by_role("button", name="Save it again").tap()
    expect(refused(page)).to_have_count(0)
    waits(page, 0)
    assert ("26", 2) in kept() and len(kept()) == 51


def test_what_is_odd_is_asked_on_the_phone_and_answered_there(cast: Cast, window: Window) -> None:
    counted_before(cast)
    page = opened(window, cast)
    enter(page, 73)
    expect(refused(page)).to_contain_text("73")
    expect(page.locator("[data-sent]")).to_have_text("1 count not saved: answer the question above.")
    expect(page.get_by_role("heading", name="Not accepted")).to_be_focused()
    expect(page.get_by_role("heading", name="Not accepted")).to_be_in_viewport()
    assert len(kept()) == 1
    refused(page).get_by_role("button", name="Yes, that is right").tap()
    expect(refused(page)).to_have_count(0)
    waits(page, 0)

    assert kept() == [("1", 2), ("1", 73)]


def test_o6_full_storage_is_told_and_what_was_typed_stays(cast: Cast, window: Window) -> None:
    counted_before(cast)
    page = window(cast.alice, *PHONE).new_page()
    devtools = page.context.new_cdp_session(page)
    page.goto(reverse("apiaries:yard-list"))
    origin = page.evaluate("location.origin")
    devtools.send("Storage.overrideQuotaForOrigin", {"origin": origin, "quotaSize": 2_000_000})
    begun(page, address(cast))
    junk = page.evaluate(FILL)
    box(page).fill("7")
    expect(page.locator("[data-problem]")).to_contain_text(
        "does not keep what you type"
    )  # before it is saved
    page.get_by_role("button", name="Save, next colony").tap()
    expect(page.locator("[data-problem]")).to_contain_text("does not keep “Colony 1: 7 mites”")
    assert box(page).input_value() == "7" and queued(page) == []
    page.evaluate(
        "async (names) => { for (const name of names) await window.recount.queue.note(name, null); }", junk
    )
    page.wait_for_timeout(600)
    page.get_by_role("button", name="Save, next colony").tap()
    colony(page, 2)
    waits(page, 0)

    assert kept() == [("1", 2), ("1", 7)]


FILL = """async () => {
    const names = [];
    for (const size of [100000, 10000, 1000, 100]) {
        try {
            for (;;) {
                const name = `junk ${names.length}`;
                await window.recount.queue.note(name, "x".repeat(size));
                names.push(name);
            }
        } catch (error) {
            if (error.name !== "QuotaExceededError") throw error;
        }
    }
    return names;
}"""


def test_o6_storage_that_is_nearly_full_is_told_before_anything_is_typed(cast: Cast, window: Window) -> None:
    page = window(cast.alice, *PHONE).new_page()
    page.add_init_script("navigator.storage.estimate = async () => ({ quota: 1000000, usage: 900000 })")
    begun(page, address(cast))

    expect(page.locator("[data-problem]")).to_contain_text("nearly full")


def test_o7_entry_of_another_version_is_told_and_can_be_saved_again(cast: Cast, window: Window) -> None:
    counted_before(cast)
    page = opened(window, cast)
    page.context.set_offline(True)
    noted(page, cast, cast.colonies[2], mites="3", v=0)
    page.context.set_offline(False)
    expect(refused(page)).to_contain_text("another version of the page")
    refused(page).get_by_role("button", name="Edit").tap()
    page.wait_for_timeout(550)
    page.get_by_role("button", name="Save it again").tap()
    expect(refused(page)).to_have_count(0)
    waits(page, 0)

    assert kept() == [("1", 2), ("3", 3)]


@pytest.mark.parametrize("off", [dt.timedelta(days=-2), dt.timedelta(days=365)], ids=["behind", "ahead"])
def test_o8_wrong_clock_is_told_and_the_day_is_the_servers(
    cast: Cast, window: Window, off: dt.timedelta
) -> None:
    counted_before(cast)
    page = window(cast.alice, *PHONE).new_page()
    page.clock.install(time=timezone.now() + off)
    begun(page, address(cast))
    expect(page.locator("[data-clock-note]")).to_contain_text("days apart")
    box(page).fill("4")
    page.get_by_role("button", name="Save, next colony").tap()
    expect(page.locator("[data-last] li")).to_have_count(1)
    waits(page, 0)

    assert MiteSample.objects.get(mites=4).sampled_on == today(cast)


@pytest.mark.parametrize(
    ("off", "words"),
    [(dt.timedelta(days=-2), "The phone’s clock is wrong"), (dt.timedelta(days=365), "still to come")],
    ids=["behind", "ahead"],
)
def test_o8_clock_that_goes_wrong_without_a_network_is_asked_about(
    cast: Cast, window: Window, off: dt.timedelta, words: str
) -> None:
    counted_before(cast)
    page = opened(window, cast)
    page.context.set_offline(True)
    page.clock.set_system_time(timezone.now() + off)
    page.clock.run_for(31_000)  # the page looks at the clock again
    box(page).fill("4")
    page.get_by_role("button", name="Save, next colony").tap()
    expect(page.locator("[data-last] li")).to_have_count(1)
    page.clock.run_for(1000)
    page.context.set_offline(False)
    expect(refused(page)).to_contain_text(words)
    assert len(kept()) == 1
    refused(page).get_by_role("button", name="Edit").tap()
    page.get_by_role("textbox", name="Date of the count").fill(today(cast).isoformat())
    page.get_by_role("button", name="Save it again").tap()
    expect(refused(page)).to_have_count(0)
    waits(page, 0)

    assert MiteSample.objects.get(mites=4).sampled_on == today(cast)


def test_o8_phone_in_another_zone_takes_the_yards_day(
    cast: Cast, browser: Any, live_server: Any, client_for: Callable[[Person | None], Any]
) -> None:
    counted_before(cast)
    zone = (
        "Pacific/Kiritimati" if timezone.now().hour < 12 else "Pacific/Pago_Pago"
    )  # another day than in Berlin
    context = browser.new_context(base_url=live_server.url, timezone_id=zone)
    session = client_for(cast.alice).cookies["sessionid"].value
    context.add_cookies([{"name": "sessionid", "value": session, "url": live_server.url}])
    page = begun(context.new_page(), address(cast))
    enter(page, 4)
    waits(page, 0)

    assert MiteSample.objects.get(mites=4).sampled_on == today(cast)
    context.close()


def test_o9_nothing_is_sent_as_another_person(
    cast: Cast, window: Window, client_for: Callable[[Person | None], Any]
) -> None:
    counted_before(cast)
    page = opened(window, cast)
    page.context.set_offline(True)
    enter(page, 4)
    mine = next(one for one in page.context.cookies() if one["name"] == "sessionid")
    session = client_for(cast.bob).cookies["sessionid"].value
    page.context.add_cookies([mine | {"value": session}])
    page.context.set_offline(False)
    expect(page.locator("[data-sent]")).to_contain_text("Somebody else is signed in on this phone")
    waits(page, 1)
    page.goto(reverse("apiaries:yard-list"))  # Bob's page: Alice's kept pages go
    begun(page, address(cast))
    expect(page.locator("[data-problem]")).to_contain_text("1 waiting to send from another person")
    assert len(kept()) == 1 and len(queued(page)) == 1
    page.context.add_cookies([mine])
    page.goto(reverse("apiaries:yard-list"))
    begun(page, address(cast))
    waits(page, 0)

    assert MiteSample.objects.get(mites=4).recorded_by == cast.alice


def test_signed_out_keeps_the_counts_until_the_person_is_back(cast: Cast, window: Window) -> None:
    counted_before(cast)
    page = opened(window, cast)
    session = next(one for one in page.context.cookies() if one["name"] == "sessionid")
    page.context.clear_cookies(name="sessionid")
    enter(page, 4)
    expect(page.locator("[data-sent]")).to_contain_text("You are signed out")
    expect(page.get_by_role("link", name="Sign in")).to_be_visible()
    waits(page, 1)
    page.context.add_cookies([session])
    send_now(page)
    waits(page, 0)

    assert kept() == [("1", 2), ("1", 4)]


def test_token_that_is_an_old_one_is_fetched_anew(cast: Cast, window: Window) -> None:
    counted_before(cast)
    page = opened(window, cast)
    page.context.clear_cookies(name="csrftoken")
    enter(page, 4)
    waits(page, 0)

    assert kept() == [("1", 2), ("1", 4)]


def test_signing_out_asks_first_and_clears_the_phone(cast: Cast, window: Window) -> None:
    counted_before(cast)
    page = opened(window, cast)
    page.route(sending(cast), lambda route: route.abort())
    enter(page, 4)
    waits(page, 1)
    page.locator("details.account summary").click()
    page.get_by_role("button", name="Sign out", exact=True).click()
    expect(page.get_by_role("dialog")).to_contain_text("1 entry was not sent. Sign out all the same?")
    page.get_by_role("button", name="Sign out, throw them away").click()
    page.wait_for_url(lambda url: "/counts/new/" not in url)

    assert queued(page) == []
    assert [name for name in page.evaluate("caches.keys()") if not name.startswith("files-")] == []


def test_o11_five_hundred_go_in_batches_of_fifty(cast: Cast, window: Window) -> None:
    colonies(cast, 50)
    counted_before(cast)
    page = opened(window, cast)
    page.context.set_offline(True)
    several = list(cast.alice_yard.colonies.in_reading_order())
    for back in range(10):
        on = today(cast) - dt.timedelta(days=back)
        noted(page, cast, *several, sampled_on=on.isoformat())
    sizes: list[tuple[int, int]] = []

    def measured(route: Route) -> None:
        body = route.request.post_data or ""
        sizes.append((len(json.loads(body)["entries"]), len(body)))
        route.continue_()

    page.route(sending(cast), measured)
    page.context.set_offline(False)
    expect(page.locator("[data-sent]")).to_contain_text("All saved", timeout=60_000)

    full = [(number, length) for number, length in sizes if number]
    assert [number for number, _ in full] == [50] * 10
    assert max(length / number for number, length in full) <= 1024  # bytes for each entry
    assert MiteSample.objects.count() == 501 and queued(page) == []


def test_o12_file_of_the_queue_comes_in_elsewhere_with_the_same_keys(
    cast: Cast, window: Window, tmp_path: Path
) -> None:
    counted_before(cast)
    page = opened(window, cast)
    page.context.set_offline(True)
    for mites in (4, 0, 1):
        enter(page, mites)
    keys = {entry["key"] for entry in queued(page)}
    with page.expect_download() as download:
        page.get_by_role("button", name="Save what waits as a file").tap()
    file = tmp_path / download.value.suggested_filename
    download.value.save_as(file)
    desk = window(cast.alice, 1280, 800).new_page()
    desk.goto(reverse("counts:phone-file"))
    desk.get_by_label("The file from the phone").set_input_files(file)
    desk.get_by_role("button", name="Bring them in").click()
    expect(desk.locator("[data-state=saved]")).to_have_count(3)

    assert MiteSample.objects.filter(entry_key__in=keys).count() == 3
    assert kept() == [("1", 2), ("1", 4), ("2", 0), ("3", 1)]
    page.context.set_offline(False)
    waits(page, 0)
    assert len(kept()) == 4 and queued(page) == []


def test_counts_that_wait_for_three_days_are_told(cast: Cast, window: Window) -> None:
    counted_before(cast)
    page = opened(window, cast)
    page.context.set_offline(True)
    old = (timezone.now() - dt.timedelta(days=3, minutes=1)).isoformat()
    noted(page, cast, cast.colonies[1], mites="3", at=old)
    expect(page.locator("[data-old-note]")).to_contain_text(
        "1 entry has been on this phone for more than 3 days"
    )
    expect(page.get_by_role("button", name="Save what waits as a file")).to_be_visible()


def test_helper_who_was_let_go_keeps_the_counts_and_is_told(cast: Cast, window: Window) -> None:
    page = opened(window, cast, person=cast.bob)
    page.locator("label", has_text="Alcohol wash").first.tap()
    page.context.set_offline(True)
    enter(page, 4)
    cast.alice_yard.helpers.update(ended_at=timezone.now(), ended_by=cast.alice)
    page.context.set_offline(False)
    expect(page.locator("[data-sent]")).to_contain_text("no longer yours to see")

    assert len(queued(page)) == 1 and kept() == []


def test_kept_page_holds_no_other_members_name(cast: Cast, window: Window) -> None:
    page = opened(window, cast, person=cast.bob)
    texts = page.evaluate(
        """async () => {
            const texts = {};
            for (const name of await caches.keys()) {
                if (!name.startsWith("pages-")) continue;
                const cache = await caches.open(name);
                for (const one of await cache.keys()) {
                    texts[new URL(one.url).pathname] = await (await cache.match(one)).text();
                }
            }
            return texts;
        }"""
    )

    assert list(texts) == [address(cast)]
    (text,) = texts.values()
    assert [
        name for name in ("Alice", "Charlie", "Dana", "Ines", "Adam") if re.search(rf"\b{name}\b", text)
    ] == []
    assert "Bob" in text


def test_count_corrected_at_the_desk_meanwhile_is_told_on_the_phone(cast: Cast, window: Window) -> None:
    counted_before(cast)
    page = opened(window, cast)
    enter(page, 5)
    waits(page, 0)
    page.context.set_offline(True)
    page.locator("[data-last] li").first.get_by_role("button", name=re.compile("^Correct")).tap()
    page.get_by_role("button", name="Typed wrongly").tap()
    box(page).fill("6")
    page.wait_for_timeout(550)
    page.get_by_role("button", name="Save the correction").tap()
    waits(page, 1)
    void_sample(sample=MiteSample.objects.get(mites=5), why="spilt", at=timezone.now(), by=cast.alice)
    page.context.set_offline(False)

    expect(refused(page)).to_contain_text("corrected, voided or restored since")
    assert kept() == [("1", 2)]


FILES = "async () => (await caches.keys()).filter((name) => name.startsWith('files-'))"


@pytest.mark.parametrize("signed_in", [True, False], ids=["page fetched anew", "page stays as it is"])
def test_files_of_a_kept_page_stay_until_it_was_fetched_anew(
    cast: Cast, window: Window, monkeypatch: pytest.MonkeyPatch, signed_in: bool
) -> None:
    page = opened(window, cast)
    before = page.evaluate(FILES)
    if not signed_in:
        page.context.clear_cookies(name="sessionid")
    monkeypatch.setattr(offline, "_version", lambda: "next")
    page.evaluate("navigator.serviceWorker.ready.then((one) => one.update())")
    expected = ["files-next"] if signed_in else [*before, "files-next"]
    page.wait_for_function(
        f"async (expected) => JSON.stringify((await ({FILES})()).sort()) === expected",
        arg=json.dumps(sorted(expected), separators=(",", ":")),
    )
    page.context.set_offline(True)
    page.reload()

    page.locator("form[data-ready]").wait_for()
