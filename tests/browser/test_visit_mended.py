"""A report that was not accepted is mended: nothing of it stays behind, and nothing else is lost by it."""

from typing import Any

import pytest
from django.core.cache import cache
from django.urls import reverse
from playwright.sync_api import Page, expect

from apiaries.models import Visit
from tests.browser.counting import PHONE, Window, queued
from tests.browser.test_visit import at_the_gate, filled, keep, looks_good, planned, waiting
from tests.cast import Cast

pytestmark = [
    pytest.mark.slow,
    pytest.mark.django_db(transaction=True),
    pytest.mark.usefixtures("reference"),
]


@pytest.fixture(autouse=True)
def limits(transactional_db: Any) -> None:
    cache.clear()


def refused(page: Page) -> None:
    """A report that was kept without a network and is not accepted, for a day before the visit."""
    page.context.set_offline(True)
    filled(page, follow_up="1 Jan 2026")
    keep(page)
    page.context.set_offline(False)
    expect(waiting(page)).to_contain_text("not accepted. This is before the day of the visit.")


def begun(page: Page) -> list[dict[str, Any]]:
    """What is begun and not kept, read without any code of ours."""
    return page.evaluate(
        """() => new Promise((resolve, reject) => {
            const request = indexedDB.open("recount");
            request.onerror = () => reject(request.error);
            request.onsuccess = () => {
                const all = request.result.transaction("known").objectStore("known").getAll();
                all.onsuccess = () => {
                    request.result.close();
                    const drafts = all.result.filter((one) => one.url.startsWith("visit draft"));
                    resolve(drafts.map((one) => one.state.boxes));
                };
            };
        })"""
    )


def test_report_that_is_mended_with_a_network_leaves_nothing_on_the_phone(cast: Cast, window: Window) -> None:
    page = at_the_gate(window(cast.ines, *PHONE).new_page(), planned(cast))
    refused(page)
    waiting(page).get_by_role("button", name="Mend it").tap()
    expect(page.locator("#id_follow_up_on")).to_be_focused()  # what was refused stands in the form again
    page.locator("#id_follow_up_on").fill("")
    page.get_by_role("button", name="Check your answers").tap()
    expect(page.locator("h1")).to_contain_text("Check your answers", timeout=30_000)
    page.get_by_role("button", name="Keep the report", exact=True).tap()
    expect(page.locator("h1")).to_contain_text("Report ", timeout=30_000)

    made = Visit.objects.made().get()
    page.goto(reverse("reports:visit-detail", args=[made.pk]))
    for _ in range(50):
        if not queued(page):
            break
        page.wait_for_timeout(100)
    assert (queued(page), begun(page)) == ([], [])
    expect(waiting(page)).to_be_hidden()


def test_report_that_is_begun_gives_way_to_a_refused_one_only_if_asked(cast: Cast, window: Window) -> None:
    page = at_the_gate(window(cast.ines, *PHONE).new_page(), planned(cast))
    refused(page)
    ((old,), mend) = (queued(page), waiting(page).get_by_role("button", name="Mend it"))
    page.reload()
    page.locator("form[data-ready]").wait_for()
    page.locator("#id_weather").fill("dry")
    mend.tap()
    dialog = page.locator("dialog.ask")
    expect(dialog).to_contain_text("begun, not kept yet.")
    looks_good(page, "begun-or-mended")
    dialog.get_by_role("button", name="Keep it").tap()
    expect(page.locator("#id_weather")).to_have_value("dry")
    ((kept,), (still,)) = (begun(page), queued(page))
    assert kept["weather"] == "dry" and kept["entry_key"] != old["key"] == still["key"]

    mend.tap()
    dialog.get_by_role("button", name="Throw it away").tap()
    expect(page.locator("#id_o1-what")).to_have_value("Melt the old combs")
    (mended,) = begun(page)
    assert (mended["entry_key"], mended.get("weather")) == (old["key"], None)
    page.locator("#id_weather").fill("wet")
    mend.tap()  # once more: what is mended by now stays
    expect(page.locator("#id_follow_up_on")).to_be_focused()
    expect(page.locator("#id_weather")).to_have_value("wet")
