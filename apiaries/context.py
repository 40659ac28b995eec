"""What every page knows: where one can go, and whether the club is invented."""

from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest
from django.urls import reverse

from apiaries.language import mark_as, say_as
from apiaries.models import Person
from apiaries.permissions import Role


@dataclass(frozen=True)
class Place:
    """One entry of the navigation."""

    label: str
    url: str
    current: bool


# Six at most for each role; said when a page is made. Names of pages, so that this app need not know the others.
PLACES: dict[Role, tuple[tuple[str, str], ...]] = {
    Role.MEMBER: (
        (mark_as("page", "Today"), "reports:today"),
        (mark_as("page", "Yards"), "apiaries:yard-list"),
        (mark_as("page", "Counts"), "counts:sample-list"),
        (mark_as("page", "Treatments"), "treatments:treatment-list"),
        (mark_as("page", "Records"), "treatments:medicine-record"),
        (mark_as("page", "Region"), "reports:region-month"),
    ),
    Role.COORDINATOR: (
        (mark_as("page", "Today"), "reports:today"),
        (mark_as("page", "Yards"), "apiaries:yard-list"),
        (mark_as("page", "Counts"), "counts:sample-list"),
        (mark_as("page", "Region"), "reports:region-month"),
        (mark_as("page", "Members"), "apiaries:member-list"),
        (mark_as("page", "Imports"), "counts:import-list"),
    ),
    Role.INSPECTOR: (
        (mark_as("page", "Visits"), "reports:visit-list"),
        (mark_as("page", "Yards"), "apiaries:yard-list"),
        (mark_as("page", "Counts"), "counts:sample-list"),
        (mark_as("page", "Treatments"), "treatments:treatment-list"),
        (mark_as("page", "Records"), "treatments:medicine-record"),
        (mark_as("page", "Region"), "reports:region-month"),
    ),
    Role.ADMINISTRATOR: (
        (mark_as("page", "Today"), "reports:today"),
        (mark_as("page", "Yards"), "apiaries:yard-list"),
        (mark_as("page", "Region"), "reports:region-month"),
        (mark_as("page", "Members"), "apiaries:member-list"),
        (mark_as("page", "Club"), "apiaries:club-edit"),
    ),
}


ALWAYS = {"help_url": "apiaries:help", "cautions_url": "apiaries:cautions"}
LINKS = ALWAYS | {"who_sees_url": "apiaries:who-sees-what", "account_url": "apiaries:me"}


def site(request: HttpRequest) -> dict[str, Any]:
    """`nav` (empty for strangers), `club`, `demo` and the addresses at the foot of every page for base.html."""
    person = getattr(request, "user", None)
    links = {"language_url": reverse("apiaries:language")}
    if not isinstance(person, Person):
        return {"nav": [], "club": None, "demo": False, **links}
    held = getattr(request, "second_step_missing", False)  # until it is set up, nothing else opens
    links |= {name: reverse(page) for name, page in (ALWAYS if held else LINKS).items()}
    membership = person.membership
    if membership is None:
        return {"nav": [], "club": None, "demo": False, **links}
    return {
        **links,
        "nav": []
        if held
        else [_place(request, label, name) for label, name in PLACES[Role(membership.role)]],
        "club": membership.club,
        "demo": membership.club.is_invented,
    }


def _place(request: HttpRequest, label: str, name: str) -> Place:
    url = reverse(name)
    current = request.path == url or (url != "/" and request.path.startswith(url))
    return Place(say_as("page", label), url, current)
