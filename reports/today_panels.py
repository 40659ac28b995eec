"""What is to be done in a yard, on its page."""

import datetime as dt

from django.urls import reverse

from apiaries.models import Person
from apiaries.on_page import YardOnPage
from apiaries.panels import Panel
from apiaries.views.asking import today_in
from counts.models import CountWeek
from reports.today import today_of
from treatments.count_calls import Asking, calls_in
from treatments.due import standing_of
from treatments.models import YardOutlook
from treatments.on_page import around_for, doses_for, is_treated, treatments_for

PANEL_ORDER = 5  # first of all


def yard_today(person: Person, page: YardOnPage) -> Panel | None:
    """The yard's part of the first page, for those who may log there; nothing when nothing is due."""
    yard, on = page.yard, today_in(person)
    if not page.recordable or yard.closed_on is not None:
        return None
    doses = page.once(doses_for)
    standing = standing_of(page.once(treatments_for), page.once(around_for, on), on, doses)
    calls = calls_in([_asking(page, on)], on, standing.statuses)
    listed = today_of(standing, calls, person, on)
    back = reverse("apiaries:yard-detail", args=[yard.pk])
    context = {"items": listed.now, "put_off": listed.put_off, "back": back}
    return Panel("reports/_yard_today.html", PANEL_ORDER, context) if listed.all else None


def _asking(page: YardOnPage, on: dt.date) -> Asking:
    """The yard with what the page knows of it."""
    return Asking(
        page.yard,
        len(page.living),
        treated=is_treated(page, on),
        any_week=page.may_have(CountWeek),
        any_outlook=page.may_have(YardOutlook),
    )
