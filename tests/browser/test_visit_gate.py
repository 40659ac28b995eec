"""A visit on a small phone: colonies unfolded and noted by touch, mistakes told, answers checked, the report kept."""

import os

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse

from apiaries.models import Visit
from tests.browser.conftest import CHROMIUM
from tests.browser.test_axe import RULES
from tests.browser.test_pages_fit import OVERFLOW, TWICE
from tests.cast import Cast

pytestmark = [pytest.mark.slow, pytest.mark.django_db(transaction=True)]
PICTURES = os.environ.get("VISIT_PICTURES", "")


def _good(page, name):
    """Nothing for axe to find, nothing to push sideways, at 320 px and with letters twice as large."""
    if PICTURES:
        page.screenshot(path=f"{PICTURES}/{name}.png", full_page=True)
    found = Axe().run(page, options=RULES).response["violations"]
    assert [(rule["id"], [node["target"] for node in rule["nodes"]]) for rule in found] == []
    assert page.evaluate(OVERFLOW) <= 0
    page.set_viewport_size({"width": 1280, "height": 800})
    page.evaluate(TWICE)
    assert page.evaluate(OVERFLOW) <= 0, "letters twice as large"
    page.evaluate("document.documentElement.style.fontSize = ''")
    page.set_viewport_size({"width": 320, "height": 640})


def test_visit_from_the_gate_to_the_report(cast: Cast, reference: None, window) -> None:
    assert CHROMIUM
    page = window(cast.ines, 320, 640).new_page()
    page.goto(reverse("reports:visit-add", args=[cast.alice_yard.pk]))
    _good(page, "gate")

    page.get_by_role(
        "button", name="Check your answers"
    ).click()  # the page asks the server first, then sends
    page.locator(".error-summary a").nth(2).wait_for()
    _good(page, "mistakes")

    page.get_by_label("The keeper", exact=True).check()
    page.get_by_label("Before the day", exact=True).check()
    page.get_by_label("Colonies present", exact=True).fill("6")
    page.locator("summary", has_text="If you count mites").click()
    page.get_by_label("Alcohol wash", exact=True).check()
    fold = page.locator("details.visit-colony", has_text="Colony 1").first
    fold.locator("summary").click()
    fold.get_by_label("Opened", exact=True).check()
    fold.get_by_label("sunken or holed cappings").check()
    fold.get_by_label("Suspected", exact=False).first.select_option("american_foulbrood")
    fold.get_by_label("Mites in colony 1", exact=False).and_(page.locator("input")).fill("4")
    assert fold.get_by_label("weak").bounding_box() is not None
    box = fold.locator("label", has_text="weak").first.bounding_box()
    assert box["height"] >= 56, "big enough for gloves"
    page.get_by_role("button", name="Check your answers").click()
    page.locator("h1", has_text="Check your answers").wait_for()

    _good(page, "check")
    assert not Visit.objects.exists()
    page.get_by_role("button", name="Keep the report").click()
    page.wait_for_url(lambda url: not url.rstrip("/").endswith("new"))

    visit = Visit.objects.get()
    assert page.url.endswith(reverse("reports:visit-detail", args=[visit.pk]))
    assert visit.samples.get().mites == 4 and visit.colonies_opened == 1
    _good(page, "report")
    for name, address in (
        ("list", reverse("reports:visit-list")),
        ("before", reverse("reports:visit-before", args=[cast.alice_yard.pk])),
        ("follow-ups", reverse("reports:follow-up-list")),
        ("year", reverse("reports:visit-year")),
        ("correct", reverse("reports:visit-correct", args=[visit.pk])),
    ):
        page.goto(address)
        _good(page, name)
