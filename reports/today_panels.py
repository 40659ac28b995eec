"""What is to be done in a yard, on its page."""

from django.urls import reverse

from apiaries.models import Person, Yard
from apiaries.panels import Panel
from apiaries.views.asking import today_in
from reports.today import today_list

PANEL_ORDER = 5  # first of all


def yard_today(person: Person, yard: Yard) -> Panel | None:
    """The yard's part of the first page, for those who may log there; nothing when nothing is due."""
    listed = today_list(person, today_in(person), yard=yard)
    back = reverse("apiaries:yard-detail", args=[yard.pk])
    context = {"items": listed.now, "put_off": listed.put_off, "back": back}
    return Panel("reports/_yard_today.html", PANEL_ORDER, context) if listed.all else None
