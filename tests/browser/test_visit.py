"""A visit from its plan to its report on paper, on a phone that has no network at the gate: kept there, sent once."""

import os
import re
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.core.cache import cache
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import Error, Page, Route, expect

from apiaries.actions.visits import plan_visits
from apiaries.language import day_words
from apiaries.models import Visit
from counts.models import MiteSample
from tests.browser.counting import KEPT, PHONE, Window, queued, today
from tests.browser.test_axe import RULES
from tests.browser.test_pages_fit import OVERFLOW
from tests.cast import Cast
from tests.printed import words_of

pytestmark = [
    pytest.mark.slow,
    pytest.mark.django_db(transaction=True),
    pytest.mark.usefixtures("reference"),
]
PICTURES = os.environ.get("VISIT_PICTURES", "")


@pytest.fixture(autouse=True)
def limits(transactional_db: Any) -> None:
    cache.clear()


def planned(cast: Cast) -> Visit:
    (visit,) = plan_visits(
        yards=[cast.alice_yard], on=today(cast), inspector=cast.ines, at=timezone.now(), by=cast.ines
    )
    return visit


def at_the_gate(page: Page, visit: Visit, *, kept: bool = True) -> Page:
    page.set_default_timeout(15_000)
    page.goto(reverse("reports:visit-make", args=[visit.pk]))
    page.locator("form[data-ready]").wait_for(state="attached")
    if kept:
        expect(page.locator("[data-kept]")).to_contain_text(KEPT, timeout=30_000)
    return page


def looks_good(page: Page, name: str) -> None:
    """Nothing for axe to find; nothing to push sideways at this width and at 320 px."""
    if PICTURES:
        page.screenshot(path=f"{PICTURES}/{name}.png", full_page=True)
    found = Axe().run(page, options=RULES).response["violations"]
    assert [(rule["id"], [node["target"] for node in rule["nodes"]]) for rule in found] == []
    size = page.viewport_size
    page.set_viewport_size({"width": 320, "height": 640})
    assert page.evaluate(OVERFLOW) <= 0
    page.set_viewport_size(size)


def tap(part: Any, words: str) -> None:
    part.locator("label", has_text=re.compile(f"^\\s*{re.escape(words)}\\s*$")).first.tap()


def filled(page: Page, *, follow_up: str = "") -> None:
    """Everything that an inspector notes, by touch wherever nothing must be written."""
    tap(page, "The keeper")
    tap(page, "Before the day")
    for _ in range(6):
        page.get_by_role("button", name="One more: Colonies present").tap()
    page.locator("summary", has_text="If you count mites").tap()
    tap(page, "Alcohol wash")
    fold = page.locator("details.visit-colony", has=page.locator("strong", has_text=re.compile("^Colony 1$")))
    fold.locator("summary").tap()
    tap(fold, "Opened")
    tap(fold, "sunken or holed cappings")
    fold.locator("select[name$=disease]").select_option("american_foulbrood")
    for _ in range(4):
        fold.get_by_role("button", name="One more: Mites in colony 1").tap()
    page.locator("summary", has_text="Order 1").tap()
    page.locator("#id_o1-what").fill("Melt the old combs")
    page.locator("#id_o1-due_on").fill("1 Dec 2027")
    page.locator("#id_follow_up_on").fill(follow_up)


def keep(page: Page) -> None:
    page.get_by_role("button", name="Check your answers").tap()
    expect(page.get_by_role("heading", name="Check your answers")).to_be_focused()
    page.get_by_role("button", name="Keep the report on this phone").tap()


def waiting(page: Page) -> Any:
    return page.locator("[data-visits-waiting]")


def test_visit_from_plan_to_paper_without_a_network_at_the_gate(
    cast: Cast, window: Window, tmp_path: Path
) -> None:
    page = window(cast.ines, *PHONE).new_page()
    page.set_default_timeout(15_000)
    page.goto(reverse("reports:visit-list"))
    page.locator(f"input[name=yards][value='{cast.alice_yard.pk}']").check()
    page.locator("input[name=on]").fill(day_words(today(cast)))
    page.get_by_role("button", name="Plan these visits").tap()
    expect(page.locator(".messages")).to_contain_text("1 visit is planned.")
    visit = Visit.objects.get()
    page.goto(reverse("reports:visit-detail", args=[visit.pk]))
    page.get_by_role("link", name="Known before going").tap()
    expect(page.locator("h1")).to_contain_text("Home yard")
    at_the_gate(page, visit)

    page.context.set_offline(True)
    page.reload()
    page.locator("form[data-ready]").wait_for()
    expect(page.locator("[data-lot-number]")).to_have_text("6 of 6 colonies to open.")
    filled(page, follow_up="1 Nov 2027")
    page.wait_for_timeout(600)  # what is typed is on the phone after a third of a second
    page.close()  # the phone threw the page out

    page = at_the_gate(page.context.new_page(), visit, kept=False)
    expect(page.locator("[data-again]")).to_be_visible()
    expect(page.locator("#id_o1-what")).to_have_value("Melt the old combs")
    looks_good(page, "gate-offline")
    page.get_by_role("button", name="Check your answers").tap()
    check = page.locator("[data-check]")
    expect(check).to_contain_text("Suspected in colony 1: American foulbrood")
    expect(check).to_contain_text("No list of your country is kept here")
    expect(check).to_contain_text("sunken or holed cappings")
    expect(check).to_contain_text("Melt the old combs")
    looks_good(page, "check-offline")
    page.get_by_role("button", name="Keep the report on this phone").tap()
    expect(waiting(page)).to_contain_text("waiting to send")
    expect(page.locator("form[data-visit]")).to_be_hidden()
    page.reload()
    expect(waiting(page)).to_contain_text("1 report waiting to send")
    looks_good(page, "waiting-offline")
    assert len(queued(page)) == 1 and not Visit.objects.made().exists()

    sending = f"**{reverse('reports:visit-entries', args=[cast.alice_yard.pk])}"
    lost = 0

    def lose(route: Route) -> None:
        nonlocal lost
        with suppress(Error):  # the last one may be under way when the route is taken away
            route.fetch()
            lost += 1
            route.abort()

    page.route(sending, lose)
    page.context.set_offline(False)
    while not lost:
        page.wait_for_timeout(50)
    assert Visit.objects.made().count() == 1, "saved, and the phone was not told"
    expect(waiting(page)).to_contain_text("1 report waiting to send")
    page.unroute(sending)
    page.locator("[data-send]").dispatch_event("click")
    expect(waiting(page)).to_contain_text(f"recorded as report {today(cast).year}-001")

    made = Visit.objects.get()
    assert made.pk == visit.pk and made.colonies_opened == 1 and made.orders.count() == 1
    assert MiteSample.objects.get().mites == 4 and MiteSample.objects.get().visit == made
    assert queued(page) == []
    waiting(page).get_by_role("link", name="Open the report").tap()
    expect(page.locator("h1")).to_have_text(f"Report {made.report}")
    with page.expect_download() as download:
        page.get_by_role("link", name="The report as a PDF, A4").tap()
    assert download.value.suggested_filename == f"visit-{made.visited_on.isoformat()}-report.pdf"
    file = tmp_path / "report.pdf"
    download.value.save_as(file)
    words = words_of(file.read_bytes())
    for said in ("Suspected in colony 1: American foulbrood", "per 100 bees (range", "Melt the old combs"):
        assert said in words
    page.goto(reverse("reports:follow-up-list"))
    expect(page.locator("main")).to_contain_text("Melt the old combs")

    keeper = window(cast.alice, *PHONE).new_page()
    keeper.goto(reverse("apiaries:yard-detail", args=[cast.alice_yard.pk]))
    keeper.get_by_role("link", name=f"report {made.report}").tap()
    expect(keeper.locator("main")).to_contain_text("Melt the old combs")
    expect(keeper.get_by_role("link", name="The report as a PDF, A4")).to_be_visible()


def test_report_that_is_not_accepted_stays_and_is_mended(cast: Cast, window: Window) -> None:
    visit = planned(cast)
    page = at_the_gate(window(cast.ines, *PHONE).new_page(), visit)
    page.context.set_offline(True)
    filled(page, follow_up="1 Jan 2026")
    keep(page)
    expect(waiting(page)).to_contain_text("waiting to send")
    page.context.set_offline(False)
    expect(waiting(page)).to_contain_text("not accepted. This is before the day of the visit.")
    assert not Visit.objects.made().exists() and len(queued(page)) == 1
    looks_good(page, "not-accepted")

    waiting(page).get_by_role("button", name="Mend it").tap()
    expect(page.locator("#id_follow_up_on")).to_be_focused()
    page.locator("#id_follow_up_on").fill("")
    page.context.set_offline(True)
    keep(page)
    page.context.set_offline(False)
    expect(waiting(page)).to_contain_text("recorded as report")
    assert Visit.objects.made().get().follow_up_on is None and queued(page) == []


def test_keyboard_alone_on_the_narrowest_phone(cast: Cast, window: Window) -> None:
    visit = planned(cast)
    page = at_the_gate(window(cast.ines, 320, 640).new_page(), visit)
    page.context.set_offline(True)
    button = page.get_by_role("button", name="Check your answers")
    button.focus()
    page.keyboard.press("Enter")
    expect(page.locator("[data-wrong]")).to_be_focused()
    looks_good(page, "wrong-offline")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.name") == "present"
    page.keyboard.press("Space")
    page.locator("#id_told_0").focus()
    page.keyboard.press("Space")
    page.locator("#id_colonies_present").focus()
    page.keyboard.type("9")
    button.focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Check your answers")).to_be_focused()
    page.get_by_role("button", name="Keep the report on this phone").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Reports on this phone")).to_be_focused()
    page.context.set_offline(False)
    expect(waiting(page)).to_contain_text("recorded as report")
    assert Visit.objects.made().get().colonies_present == 9


def test_signing_out_asks_and_takes_all_of_it_off_the_phone(cast: Cast, window: Window) -> None:
    visit = planned(cast)
    page = at_the_gate(window(cast.ines, *PHONE).new_page(), visit)
    page.locator("#id_weather").fill("dry")
    page.wait_for_timeout(600)
    page.evaluate("document.querySelector('form[data-sign-out]').requestSubmit()")
    expect(page.locator("dialog.ask")).to_contain_text("1 entry was not sent")
    page.get_by_role("button", name="Sign out, throw them away").tap()
    page.wait_for_url(lambda url: "/make/" not in url)
    assert (
        page.evaluate("caches.keys().then((names) => names.filter((name) => name.startsWith('pages-')))")
        == []
    )
    page.context.set_offline(True)
    with pytest.raises(Error):
        page.goto(reverse("reports:visit-make", args=[visit.pk]))
