"""Visits on a yard's page: for its keeper and helpers to read, for the region's inspector to go on from."""

from apiaries.models import Person, Visit, Yard
from apiaries.panels import Panel
from apiaries.permissions import Permission

PANEL_ORDER = 80  # after counts, treatments and the season
SHOWN = 10


def yard_visits(person: Person, yard: Yard) -> Panel | None:
    """Planned visits and reports; nothing for who sees none and records none."""
    visible = Visit.objects.visible_to(person).filter(yard=yard).select_related("inspector")
    planned = list(visible.planned().order_by("planned_on"))
    made = list(visible.made().order_by("-visited_on", "-pk")[:SHOWN])
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
