"""A treatment day from plan to recount in a real browser, the work in the yard without a network."""

import datetime as dt
from decimal import Decimal

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from apiaries.actions import add_numbered_colonies
from apiaries.models import Brood, Colony
from tests.browser.test_yard_day import HIVES, KEPT, Window, card, pass_time, press, waits
from tests.cast import STARTED, Cast
from treatments.device_actions import add_device
from treatments.models import Dose, SheetMark, Treatment

pytestmark = [pytest.mark.slow, pytest.mark.django_db(transaction=True)]


def test_plan_print_work_finish_and_the_recount_is_set(cast: Cast, reference: None, window: Window) -> None:
    now = dt.datetime.now(dt.UTC)
    add_numbered_colonies(yard=cast.alice_yard, first=7, last=HIVES, started_on=STARTED, by=cast.alice)
    today = cast.alice_yard.local_date(now)
    Colony.objects.filter(yard=cast.alice_yard).update(brood=Brood.NONE, brood_seen_on=today)
    minute = Decimal("0.1")  # a quick heater, so that the phone's clock stays near the server's
    facts = {"name": "pan", "tried_on": today, "cool_minutes": minute}
    facts |= {"first_minutes": minute, "following_minutes": minute}
    add_device(keeper=cast.alice, facts=facts, at=now, by=cast.alice)
    page = window(cast.alice, 390, 844).new_page()
    page.set_default_timeout(15_000)

    page.goto(reverse("apiaries:yard-detail", args=[cast.alice_yard.pk]))
    page.get_by_role("link", name="Plan a treatment day").click()
    page.goto(reverse("treatments:day-plan", args=[cast.alice_yard.pk, "oxalic_vapour_us"]))
    page.get_by_label("Wait before drawing the heater").fill("0")
    page.get_by_label("Kept shut after the last vapour").fill("0")
    page.get_by_role("button", name="Make the sheet").click()
    expect(page.get_by_role("heading", name="Hives, in the order walked")).to_be_visible()
    with page.expect_download() as paper:
        page.get_by_role("link", name="PDF, A4").click()
    assert paper.value.suggested_filename.endswith("-a4.pdf")

    page.clock.install(time=dt.datetime.now(dt.UTC))
    page.get_by_role("link", name="In the yard").click()
    expect(page.locator("[data-kept]")).to_contain_text(KEPT)
    page.context.set_offline(True)
    for number in range(1, HIVES + 1):
        press(page, number, "Start")
        press(page, number, "Heater out")
    pass_time(page, minutes=1)
    for number in range(1, HIVES + 1):
        press(page, number, "Opened")
        expect(card(page, number)).to_have_attribute("data-stage", "opened")
    assert SheetMark.objects.count() == 0
    page.context.set_offline(False)
    waits(page, 0)
    assert SheetMark.objects.filter(undone_at=None).count() == 3 * HIVES

    treatment = Treatment.objects.get()
    page.goto(reverse("treatments:round-finish", args=[treatment.pk, 1]))
    page.get_by_label("Batch number").fill("B 7")
    page.get_by_label("Supplier").fill("a shop")
    page.get_by_label("Withdrawal period in days").fill("0")
    page.get_by_role("button", name="Save and set recount").click()

    expect(page.get_by_text("Round 1 is noted as given. Recount on")).to_be_visible()
    treatment.refresh_from_db()
    assert (treatment.batch, treatment.withdrawal_days) == ("B 7", 0)
    assert Dose.objects.filter(voided_at=None).count() == HIVES
    assert treatment.recount.ideal_on == treatment.rounds.get().given_on + dt.timedelta(days=14)
    page.goto(reverse("treatments:medicine-record"))
    expect(page.get_by_text("B 7").first).to_be_visible()
