"""On the page of a yard: that it came from a file, whose names and days are as the file gave them."""

from __future__ import annotations

from apiaries.models import Person
from apiaries.on_page import YardOnPage
from apiaries.panels import Panel
from reports.models import ReturnedFile

PANEL_ORDER = 90  # after everything that is about bees
SHOWN = ("brought_at", "told", "person__name")


def yard_came_back(person: Person, page: YardOnPage) -> Panel | None:
    """Who brought it and when; nothing for a yard that was set up here."""
    if not page.may_have(ReturnedFile.yards.through):
        return None
    file = ReturnedFile.objects.filter(yards=page.yard).select_related("person").only(*SHOWN).first()
    return Panel("reports/_came_back_panel.html", PANEL_ORDER, {"file": file}) if file else None
