"""On the page of a yard: that it came from a file, whose names and days are as the file gave them."""

from __future__ import annotations

from apiaries.models import Person, Yard
from apiaries.panels import Panel
from reports.models import ReturnedFile

PANEL_ORDER = 90  # after everything that is about bees


def yard_came_back(person: Person, yard: Yard) -> Panel | None:
    """Who brought it and when; nothing for a yard that was set up here."""
    file = ReturnedFile.objects.filter(yards=yard).select_related("person").defer("content").first()
    return Panel("reports/_came_back_panel.html", PANEL_ORDER, {"file": file}) if file else None
