"""Counting on a phone in a real browser: few taps, a whole yard, the keyboard alone, gloves, without JavaScript."""

import re
from collections.abc import Callable
from typing import Any

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from apiaries.models import Person
from counts.models import MiteSample
from tests.browser.counting import (
    DESK,
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
    opened,
    queued,
    waits,
)
from tests.cast import Cast

pytestmark = [
    pytest.mark.slow,
    pytest.mark.django_db(transaction=True),
    pytest.mark.usefixtures("reference"),
]
SIZES = pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])


@SIZES
def test_count_takes_two_taps_where_the_method_is_remembered(
    cast: Cast, window: Window, size: tuple[int, int]
) -> None:
    before = counted_before(cast)
    page = opened(window, cast, size, url=reverse("counts:sample-add", args=[cast.colony.pk]))
    taps = 0
    for button in (
        page.get_by_role("button", name="3", exact=True),
        page.get_by_role("button", name="Save count"),
    ):
        button.click()
        taps += 1
    expect(page.locator("[data-last] li")).to_have_count(1)
    waits(page, 0)

    assert taps <= 4
    (sample,) = MiteSample.objects.exclude(pk=before.pk)
    assert (sample.colony, sample.mites, sample.bees, sample.method) == (cast.colony, 3, 300, "alcohol_wash")


def test_first_count_of_a_yard_takes_four_taps_at_most(cast: Cast, window: Window) -> None:
    page = opened(window, cast)
    page.locator("label", has_text="Alcohol wash").first.tap()
    page.get_by_role("button", name="0", exact=True).tap()
    page.get_by_role("button", name="Save, next colony").tap()
    colony(page, 2)
    waits(page, 0)

    assert kept() == [("1", 0)]


@SIZES
def test_twelve_colonies_in_a_row_without_a_network(
    cast: Cast, window: Window, size: tuple[int, int]
) -> None:
    colonies(cast, 12)
    counted_before(cast)
    page = opened(window, cast, size)
    page.context.set_offline(True)
    for number in range(1, 13):
        colony(page, number)
        enter(page, number % 4)
        waits(page, number)
    expect(page.locator("[data-said]")).to_contain_text("Every colony on this list is counted")
    keys = {entry["key"]: entry["body"]["colony"] for entry in queued(page)}
    assert len(kept()) == 1
    page.context.set_offline(False)
    waits(page, 0)

    assert queued(page) == []
    samples = MiteSample.objects.filter(entry_key__in=keys)
    assert {str(one.entry_key): one.colony_id for one in samples} == keys
    assert {one.entry_key.version for one in samples} == {7}
    assert len(kept()) == 13


def test_page_opened_anew_goes_on_where_it_was(cast: Cast, window: Window) -> None:
    colonies(cast, 16)
    counted_before(cast)
    page = opened(window, cast)
    page.context.set_offline(True)
    for _ in range(14):
        enter(page, 1)
    page.reload()
    colony(page, 15)
    page.context.set_offline(False)
    waits(page, 0)
    begun(page, address(cast))

    colony(page, 15)


def test_keyboard_alone_goes_from_colony_to_colony(cast: Cast, window: Window) -> None:
    counted_before(cast)
    page = opened(window, cast, DESK)
    box(page).focus()
    for number in range(1, 7):
        colony(page, number)
        expect(box(page)).to_be_focused()
        page.wait_for_timeout(550)
        page.keyboard.type(str(number % 3))
        page.keyboard.press("Enter")
        expect(page.locator("[data-last] li")).to_have_count(number)
    waits(page, 0)

    assert [row for row in kept() if row != ("1", 2)] == [(str(n), n % 3) for n in range(1, 7)]


def test_sheet_typed_at_the_desk_goes_straight_to_the_server(cast: Cast, window: Window) -> None:
    counted_before(cast)
    page = window(cast.alice, *DESK).new_page()
    page.goto(address(cast))
    page.locator("form[data-ready]").wait_for()
    page.get_by_label("Mites in colony 1", exact=True).focus()
    for mites in ("1", "0", "2"):
        page.keyboard.type(mites)
        page.keyboard.press("Enter")
    page.get_by_role("button", name="Save counts").click()
    page.wait_for_url(lambda url: "counts/new" not in url)

    assert kept() == [("1", 1), ("1", 2), ("2", 0), ("3", 2)]


def test_sheet_typed_without_a_network_waits_on_this_machine(cast: Cast, window: Window) -> None:
    counted_before(cast)
    page = opened(window, cast, DESK)
    page.get_by_role("button", name="All rows").click()
    page.context.set_offline(True)
    page.get_by_label("Mites in colony 2", exact=True).fill("many")
    page.get_by_label("Mites in colony 3", exact=True).fill("4")
    page.get_by_role("button", name="Save counts").click()
    expect(page.get_by_text("Error: Enter the number of mites")).to_be_visible()
    assert queued(page) == []
    page.get_by_label("Mites in colony 2", exact=True).fill("1")
    page.get_by_role("button", name="Save counts").click()
    waits(page, 2)
    page.context.set_offline(False)
    waits(page, 0)

    assert kept() == [("1", 2), ("2", 1), ("3", 4)]


def test_nothing_typed_is_told_at_the_box_and_zero_is_a_count(cast: Cast, window: Window) -> None:
    before = counted_before(cast)
    page = opened(window, cast)
    page.get_by_role("button", name="Save, next colony").tap()
    expect(page.locator("[data-one]")).to_contain_text("Enter the number of mites, even if it is 0.")
    expect(box(page)).to_be_focused()
    assert box(page).input_value() == "" and MiteSample.objects.get() == before
    page.get_by_role("button", name="0", exact=True).tap()
    page.get_by_role("button", name="Save, next colony").tap()
    colony(page, 2)
    waits(page, 0)

    assert ("1", 0) in kept()


def test_drawn_list_comes_in_its_order(cast: Cast, window: Window) -> None:
    colonies(cast, 24)
    counted_before(cast)
    page = window(cast.alice, *PHONE).new_page()
    page.goto(reverse("counts:sampling-plan", args=[cast.alice_yard.pk]))
    listed = [text.strip() for text in page.locator(".write-in tbody th").all_inner_texts()]
    begun(page, address(cast))
    page.get_by_text("Another colony").tap()
    page.get_by_role("button", name="The drawn list").tap()
    for name in listed[:3]:
        colony(page, re.sub(r"\D", "", name))
        enter(page, 1)
    waits(page, 0)

    assert len(kept()) == 4


def test_method_and_measure_are_remembered_on_the_phone(cast: Cast, window: Window) -> None:
    page = opened(window, cast)
    page.context.set_offline(True)
    page.locator("label", has_text="Sugar roll").first.tap()
    page.locator("label", has_text="25 g of bees").first.tap()
    enter(page, 2)
    waits(page, 1)
    page.reload()
    page.locator("form[data-ready]").wait_for()

    expect(page.locator("[data-settled]")).to_contain_text(
        "Sugar roll. 25 g of bees, weighed, taken as 200 bees."
    )
    colony(page, 2)
    assert box(page).input_value() == ""


def test_half_cup_shows_both_published_figures(cast: Cast, window: Window) -> None:
    page = opened(window, cast)
    page.locator("label", has_text="Alcohol wash").first.tap()
    page.get_by_text("Why 300 for half a cup?").tap()

    for figure in ("300 bees (", "400 bees ("):
        expect(page.locator("details.why li", has_text=figure).first).to_be_visible()


def test_undo_takes_an_unsent_count_from_the_phone_and_voids_a_sent_one(cast: Cast, window: Window) -> None:
    counted_before(cast)
    page = opened(window, cast)
    page.context.set_offline(True)
    enter(page, 4)
    waits(page, 1)
    page.get_by_role("button", name=re.compile("^Undo")).first.tap()
    expect(page.locator("[data-sent]")).to_have_attribute("data-waiting", "no")
    assert queued(page) == []
    page.context.set_offline(False)
    colony(page, 1)
    enter(page, 5)
    waits(page, 0)
    page.reload()  # it stays to be undone
    entry = page.locator("[data-last] li", has_text="Colony 1: 5 in")
    entry.get_by_role("button", name=re.compile("^Undo")).tap()
    entry.get_by_role("button", name="Wrong colony").tap()
    expect(entry).to_have_count(0)
    waits(page, 0)

    sample = MiteSample.objects.get(mites=5)
    assert (sample.voided_why, sample.voided_by) == ("Wrong colony", cast.alice)


def test_correction_from_the_last_entries(cast: Cast, window: Window) -> None:
    counted_before(cast)
    page = opened(window, cast)
    enter(page, 5)
    waits(page, 0)
    page.locator("[data-last] li").first.get_by_role("button", name=re.compile("^Correct")).tap()
    expect(box(page)).to_have_value("5")
    page.get_by_role("button", name="Typed wrongly").tap()
    box(page).fill("6")
    page.wait_for_timeout(550)
    page.get_by_role("button", name="Save the correction").tap()
    expect(page.locator("[data-last] li").first).to_contain_text("Colony 1: 6 in")
    waits(page, 0)

    right = MiteSample.objects.get(mites=6)
    assert (right.corrects.mites, right.corrects.voided_why) == (5, "Typed wrongly")


def test_gloves_find_big_buttons_with_room_between(cast: Cast, window: Window) -> None:
    counted_before(cast)
    page = opened(window, cast)
    enter(page, 1)
    expect(page.locator("[data-last] .entry-state")).to_have_text(
        "saved"
    )  # its buttons are drawn anew with it
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    for width in (320, 390, 1280):
        page.set_viewport_size({"width": width, "height": 844})
        assert (
            page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") == 0
        )
        steppers = page.locator("[data-one] .stepper button:visible").evaluate_all(HEIGHTS)
        assert len(steppers) == 2 and min(steppers) >= 56
        chips = page.locator("[data-one] .chips button:visible")
        assert min(chips.evaluate_all(HEIGHTS)) >= 56
        first, second = chips.nth(0).bounding_box(), chips.nth(1).bounding_box()
        assert second["x"] - first["x"] - first["width"] >= 12
        assert page.get_by_role("button", name="Save, next colony").bounding_box()["height"] >= 64
        others = page.locator(".reasons button:visible, .one-colony__go button:visible").evaluate_all(HEIGHTS)
        assert len(others) >= 4 and min(others) >= 56
    assert complaints == []


HEIGHTS = "buttons => buttons.map(button => button.getBoundingClientRect().height)"


def test_jar_timer_tells_its_end_by_the_clock_over_a_reload(cast: Cast, window: Window) -> None:
    page = window(cast.alice, *PHONE).new_page()
    page.clock.install()
    begun(page, address(cast))
    page.get_by_text("Jar timer").tap()
    page.get_by_role("button", name="2 min").tap()
    told = page.locator("[data-until]").inner_text()
    assert re.fullmatch(r"It ends at \d\d:\d\d:\d\d", told)
    page.reload()
    page.locator("form[data-ready]").wait_for()
    expect(page.locator("[data-until]")).to_have_text(told)
    page.clock.fast_forward(121_000)
    page.clock.run_for(1000)

    expect(page.locator("[data-left]")).to_have_text("Time is up")
    expect(page.locator("[data-rung]")).to_have_text("Jar timer: time is up.")


@SIZES
def test_forms_work_without_javascript(
    cast: Cast,
    browser: Any,
    live_server: Any,
    client_for: Callable[[Person | None], Any],
    size: tuple[int, int],
) -> None:
    counted_before(cast)
    context = browser.new_context(
        base_url=live_server.url, java_script_enabled=False, viewport={"width": size[0], "height": size[1]}
    )
    session = client_for(cast.alice).cookies["sessionid"].value
    context.add_cookies([{"name": "sessionid", "value": session, "url": live_server.url}])
    page = context.new_page()
    page.goto(address(cast))
    assert not page.locator("[data-one]").is_visible() and not page.locator("[data-bar]").is_visible()
    page.get_by_label("Mites in colony 4", exact=True).fill("7")
    page.get_by_role("button", name="Save counts").click()
    page.goto(reverse("counts:sample-add", args=[cast.colonies[4].pk]))
    page.get_by_role("textbox", name="Mites found").fill("8")
    page.get_by_role("button", name="Save count").click()
    expect(page.get_by_text("Count saved.")).to_be_visible()

    assert kept() == [("1", 2), ("4", 7), ("5", 8)]
    context.close()
