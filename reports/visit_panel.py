"""Visits on a yard's page: for its keeper and helpers to read, for the region's inspector to go on from."""

from operator import attrgetter

from apiaries.models import Person, Visit, Yard
from apiaries.on_page import YardOnPage
from apiaries.panels import Panel
from apiaries.permissions import Permission

PANEL_ORDER = 80  # after counts, treatments and the season
SHOWN = 10
COLUMNS = (
    "planned_on",
    "planned_why",
    "visited_on",
    "year",
    "number",
    "version",
    "colonies_opened",
    "colonies_present",
    "inspector__name",
)
"""Without the texts of a report."""


def yard_visits(person: Person, page: YardOnPage) -> Panel | None:
    """Planned visits and reports; nothing for who sees none and records none."""
    yard = page.yard
    found = _seen(person, yard) if page.may_have(Visit) else []
    planned = sorted((one for one in found if one.visited_on is None), key=attrgetter("planned_on"))
    made = [one for one in found if one.visited_on is not None][:SHOWN]
    may_visit = (
        person.can(Permission.VISIT_RECORD) and Yard.objects.inspected_by(person).filter(pk=yard.pk).exists()
    )
    if not (planned or made or may_visit):
        return None
    return Panel(
        "reports/_visits_panel.html",
        PANEL_ORDER,
        {"planned": planned, "made": made, "may_visit": may_visit and yard.closed_on is None},
    )


def _seen(person: Person, yard: Yard) -> list[Visit]:
    visible = Visit.objects.visible_to(person).filter(yard=yard).select_related("inspector")
    return list(visible.planned_or_made().order_by("-visited_on", "-pk").only(*COLUMNS))
