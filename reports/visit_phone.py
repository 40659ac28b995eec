"""What the gate's page tells a phone that keeps it: one yard's colonies, their lots, and words to say offline."""

import datetime as dt
from typing import Any

from django.conf import settings
from django.urls import reverse
from django.utils import timezone

from apiaries.entries import moment_words
from apiaries.language import mark, say
from apiaries.models import Person, Visit, Yard
from apiaries.visit_reference import rule_of
from apiaries.visit_rules import colonies_to_open
from apiaries.visit_words import OTHER
from counts.planning import SPARES, in_fair_order
from reports.visit_entries import VERSION
from reports.visit_there import MOST_ROWS

DRAWS = 6
"""So many lots go along, so that one can be drawn anew without a network (our choice)."""
PRESENT_MOST = 400
"""For so many colonies present the number to open goes along; beyond, the page asks for a network (our choice)."""
WRONG = {
    "visited_on": mark("Enter the date, for example 12 Aug 2026."),
    "present": mark("Say who was there."),
    "present_who": mark("Enter the name of who was there."),
    "told": mark("Say when notice was given."),
    "colonies_present": mark("Enter how many colonies stand in the yard, 0 if none."),
    "method": mark("Choose how you counted."),
    "remark": mark("Say in the remark what else you saw."),
}
"""What the phone says at a box by itself, without a network; the form says the same."""


def gate_phone(yard: Yard, person: Person, *, planned: Visit | None, on: dt.date) -> dict[str, Any]:
    """What the script of the gate's page works with: nobody's facts but the visited yard's, and no place.

    `on` is the day that the lots are drawn for.
    """
    living = list(yard.colonies.living().in_reading_order())
    places = {one.pk: place for place, one in enumerate(living)}
    rule = rule_of(yard.club)
    return waiting_phone(person) | {
        "v": VERSION,
        "url": entries_url(yard.pk),
        "yard": yard.pk,
        "yard_name": yard.name,
        "zone": yard.time_zone,
        "planned": planned.pk if planned is not None else None,
        "own_page": reverse("reports:visit-add", args=[yard.pk]),
        "most_rows": MOST_ROWS,
        "colonies": [[one.pk, one.name] for one in living],
        "lots": [
            [places[one.pk] for one in in_fair_order(yard, on=on, draw=draw, living=living)]
            for draw in range(DRAWS)
        ],
        "drawn_on": on.isoformat(),
        "spares": SPARES,
        "to_open": [colonies_to_open(rule, present) for present in range(PRESENT_MOST + 1)],
        "other": OTHER,
        "words": {box: say(words) for box, words in WRONG.items()},
    }


def waiting_phone(person: Person) -> dict[str, Any]:
    """What every page needs that shows which reports wait on this phone."""
    return {
        "person": person.pk,
        "name": person.name,
        "cookie": settings.CSRF_COOKIE_NAME,
        "sign_in": reverse("account_login"),
    }


def entries_url(yard: int) -> str:
    """Where visits to this yard arrive."""
    return reverse("reports:visit-entries", args=[yard])


def state_of() -> dict[str, Any]:
    """The server's clock, told with every answer."""
    return {"read_at": moment_words(timezone.now())}
