"""Members whom mail does not reach, on the club's page of members."""

from apiaries.models import Club, Person
from apiaries.panels import Panel
from apiaries.zones import zone_of
from reports.models import Suspension

PANEL_ORDER = 5  # before hints about counts


def members_unreached(person: Person, club: Club) -> Panel | None:
    """Who and since when; not what their mail server said. Nothing where all are reached."""
    members = club.memberships.current().values("person")
    suspended = (
        Suspension.objects.filter(person__in=members).select_related("person").order_by("person__name", "pk")
    )
    zone = zone_of(club.time_zone)
    unreached = [(one.person.name, one.since.astimezone(zone).date()) for one in suspended]
    return (
        Panel("reports/_unreached_panel.html", PANEL_ORDER, {"unreached": unreached}) if unreached else None
    )
