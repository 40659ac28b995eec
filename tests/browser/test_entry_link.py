"""The button of a mail in a real browser: what it may send across decides whether the form is taken at all."""

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
from django.conf import settings
from django.utils import timezone

from counts.models import MiteSample
from reports.links import entry_url
from tests.cast import Cast
from tests.reports.treating import treated


@pytest.mark.slow
@pytest.mark.django_db(transaction=True)
def test_stranger_on_a_phone_counts_from_the_mail(
    reference: None, cast: Cast, window: Callable[..., Any]
) -> None:
    now = timezone.now()
    recount = treated(cast.colonies[:2], on=now.date() - dt.timedelta(days=18), saved=now)
    path = entry_url(recount, cast.alice, at=now).removeprefix(settings.SITE_URL)
    page = window(None, 390, 800).new_page()

    page.goto(path)
    page.locator("label", has_text="Alcohol wash").first.click()
    page.get_by_label("Mites in colony 1", exact=True).fill("4")
    page.get_by_role("button", name="Save counts").click()

    assert page.get_by_role("heading", level=1).inner_text() == "This recount is counted"
    assert [(one.mites, one.recorded_by) for one in MiteSample.objects.all()] == [(4, cast.alice)]
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
