"""A round through a yard in a real browser: what the page says is saved, its end, and days that are past."""

import datetime as dt
import re

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from apiaries.models import Colony
from counts.models import MiteSample
from tests.browser.counting import Window, address, box, colony, counted_before, enter, kept, opened, waits
from tests.cast import STARTED, Cast

pytestmark = [
    pytest.mark.slow,
    pytest.mark.django_db(transaction=True),
    pytest.mark.usefixtures("reference"),
]


def sent(page: Page, words: str) -> None:
    expect(page.locator("[data-sent]")).to_have_text(words)


def set_day(page: Page, words: str) -> None:
    fold = page.locator("details.settled")
    if fold.get_attribute("open") is None:
        fold.locator("summary").first.tap()
    page.get_by_role("textbox", name="Date of the count").fill(words)
    page.get_by_role("textbox", name="Date of the count").blur()


def in_words(on: dt.date) -> str:
    return f"{on.day} {on:%b %Y}"


def test_all_saved_is_said_only_once_something_was(cast: Cast, window: Window) -> None:
    counted_before(cast)
    page = opened(window, cast)
    sent(page, "")
    expect(page.get_by_role("link", name="Cancel")).to_be_visible()
    box(page).fill("4")
    sent(page, "Not saved yet.")
    box(page).fill("")
    sent(page, "")
    enter(page, 4)
    waits(page, 0)

    expect(page.get_by_role("link", name="Done")).to_be_visible()
    expect(page.get_by_role("link", name="Cancel")).to_have_count(0)
    box(page).fill("5")
    sent(page, "Not saved yet.")


@pytest.mark.parametrize("written", ["iso", "words", "dots"])
def test_round_of_a_past_day_ends_visibly(cast: Cast, window: Window, written: str) -> None:
    counted_before(cast)
    on = STARTED + dt.timedelta(days=30)
    typed = {"iso": on.isoformat(), "words": in_words(on), "dots": f"{on.day}.{on.month}.{on.year}"}
    page = opened(window, cast)
    set_day(page, typed[written])
    for number in range(1, 7):
        colony(page, number)
        enter(page, number % 2)

    end = page.locator("[data-finished]")
    expect(end.get_by_role("heading")).to_have_text(f"All 6 colonies are counted, {in_words(on)}.")
    expect(end.get_by_role("heading")).to_be_focused()
    waits(page, 0)
    expect(end).to_be_visible()
    expect(box(page)).to_be_hidden()
    expect(page.get_by_role("button", name="Save, next colony")).to_be_hidden()
    expect(page.locator("[data-last-words]")).to_contain_text(in_words(on))
    page.reload()
    page.locator("form[data-ready]").wait_for()
    expect(end).to_be_hidden()  # nothing is counted today
    set_day(page, typed[written])
    expect(end).to_be_visible()
    end.get_by_role("link", name="See what they say").tap()
    page.wait_for_url(lambda url: url.endswith(reverse("apiaries:yard-detail", args=[cast.alice_yard.pk])))

    assert len(kept()) == 7
    assert set(MiteSample.objects.exclude(sampled_on__lt=STARTED).values_list("sampled_on", flat=True)) >= {
        on
    }


def test_one_more_count_after_the_end_of_a_round(cast: Cast, window: Window) -> None:
    counted_before(cast)
    page = opened(window, cast)
    for number in range(1, 7):
        colony(page, number)
        enter(page, 1)
    waits(page, 0)
    page.get_by_role("button", name="Count one again").tap()
    page.locator("[data-picks]").get_by_role("button", name=re.compile("^2 ")).tap()
    colony(page, 2)
    enter(page, 2)
    expect(page.locator("[data-refused] li")).to_contain_text("Is this one more count?")
    page.get_by_role("button", name="Yes, that is right").tap()
    waits(page, 0)

    expect(page.locator("[data-finished]")).to_be_visible()
    assert kept().count(("2", 2)) == 1


def test_whether_it_stood_there_is_asked_once_for_the_yard(cast: Cast, window: Window) -> None:
    counted_before(cast)
    on = STARTED - dt.timedelta(days=10)
    page = opened(window, cast)
    set_day(page, in_words(on))
    page.context.set_offline(True)
    for _ in range(6):
        enter(page, 1)
    page.context.set_offline(False)
    refused = page.locator("[data-refused] li")
    expect(refused).to_have_count(6)
    sent(page, "6 counts not saved: answer the questions above.")
    expect(page.locator("[data-finished]")).to_contain_text("but not all are saved")
    refused.first.get_by_role("button", name="Yes, that is right").tap()
    expect(refused).to_have_count(0)
    waits(page, 0)

    assert len(kept()) == 7
    assert set(Colony.objects.filter(yard=cast.alice_yard).values_list("started_on", flat=True)) == {on}


def test_refusal_of_a_single_count_is_on_the_screen(cast: Cast, window: Window) -> None:
    counted_before(cast)
    page = opened(window, cast, url=reverse("counts:sample-add", args=[cast.colony.pk]))
    set_day(page, in_words(STARTED - dt.timedelta(days=10)))
    enter(page, 1)
    sent(page, "1 count not saved: answer the question above.")

    heading = page.get_by_role("heading", name="Not accepted")
    expect(heading).to_be_in_viewport()
    expect(heading).to_be_focused()
    expect(page.locator("[data-refused]")).to_contain_text("here since then")


def test_method_asked_for_stands_above_the_mites_and_its_error_goes_when_chosen(
    cast: Cast, window: Window
) -> None:
    page = opened(window, cast)
    fold = page.locator("details.settled")
    assert fold.bounding_box()["y"] < box(page).bounding_box()["y"]
    box(page).fill("3")
    page.get_by_role("button", name="Save, next colony").tap()
    expect(page.get_by_text("Error: Choose how you counted.")).to_be_visible()
    page.locator("label", has_text="Alcohol wash").first.tap()
    expect(page.get_by_text("Error: Choose how you counted.")).to_have_count(0)


def test_day_asked_for_stands_above_the_mites(cast: Cast, window: Window) -> None:
    counted_before(cast)
    page = opened(window, cast)
    fold = page.locator("details.settled")
    assert fold.bounding_box()["y"] > box(page).bounding_box()["y"]
    page = opened(window, cast, url=f"{address(cast)}?earlier=1")
    fold, on = page.locator("details.settled"), page.get_by_role("textbox", name="Date of the count")

    assert fold.bounding_box()["y"] < on.bounding_box()["y"] < box(page).bounding_box()["y"]
    assert on.input_value() == ""


def test_rows_that_are_asked_about_keep_their_day(cast: Cast, window: Window) -> None:
    before = counted_before(cast)
    page = opened(window, cast)
    set_day(page, in_words(before.sampled_on))
    page.get_by_role("button", name="All rows").tap()
    page.locator("[data-rows] input[name$='-mites']").first.fill("3")
    page.get_by_role("button", name="Save counts").tap()
    expect(page.get_by_text("Please look again. Nothing is saved yet.")).to_be_visible()
    expect(page.locator("[name=sampled_on]")).to_have_value(in_words(before.sampled_on))
    page.get_by_text("Yes, that is right").tap()
    page.get_by_role("button", name="Save counts").tap()
    page.wait_for_url(lambda url: "/counts/new/" not in url)

    days = MiteSample.objects.exclude(pk=before.pk).values_list("mites", "sampled_on")
    assert list(days) == [(3, before.sampled_on)]
