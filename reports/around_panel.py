"""The way from a yard's page to the yards around it."""

from apiaries.models import Person, Yard
from apiaries.on_page import YardOnPage
from apiaries.panels import Panel
from apiaries.permissions import Permission
from reports.around_form import USUAL_KM

PANEL_ORDER = 90  # last of all


def yards_around_this(person: Person, page: YardOnPage) -> Panel | None:
    """For the inspector of its region, where a circle can be drawn around it."""
    yard = page.yard
    if yard.closed_on is not None or (yard.latitude is None and not yard.cell):
        return None
    if not person.can(Permission.YARD_VIEW_IN_REGION):  # most readers: nothing need be asked
        return None
    if not Yard.objects.inspected_by(person).filter(pk=yard.pk).exists():
        return None
    return Panel("reports/_around_panel.html", PANEL_ORDER, {"km": USUAL_KM})
