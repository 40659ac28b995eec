"""The stopwatch of a timed trial in a real browser: by keyboard, across a reload, into the box."""

import datetime as dt
import re
from collections.abc import Callable

import pytest
from django.urls import reverse
from playwright.sync_api import BrowserContext, expect

from apiaries.models import Person
from tests.cast import Cast
from treatments.device_actions import add_device

pytestmark = [pytest.mark.slow, pytest.mark.django_db(transaction=True)]
Window = Callable[[Person | None, int, int], BrowserContext]
AT = dt.datetime(2026, 8, 12, 9, tzinfo=dt.UTC)


def test_watch_goes_on_over_a_reload_and_fills_its_box(cast: Cast, window: Window) -> None:
    device = add_device(keeper=cast.alice, facts={"name": "pan"}, at=AT, by=cast.alice)
    page = window(cast.alice, 390, 844).new_page()
    page.goto(reverse("treatments:device-trial", args=[device.pk]))
    first = page.get_by_role("button", name=re.compile("the watch.*First load"))

    first.focus()
    page.keyboard.press("Enter")
    expect(first).to_contain_text("Stop the watch")
    page.reload()
    expect(first).to_contain_text("Stop the watch")
    first.focus()
    page.keyboard.press("Enter")

    expect(first).to_contain_text("Start the watch")
    expect(page.get_by_label("First load: minutes")).to_have_value(re.compile(r"^\d+:[0-5]\d$"))
    expect(page.get_by_label("Second load: minutes")).to_have_value("")
