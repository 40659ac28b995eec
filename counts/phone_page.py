"""What the count pages tell a phone that keeps them: the yard's colonies and the person's own last counts there."""

import datetime as dt
from typing import Any

from django.conf import settings
from django.urls import reverse
from django.utils import timezone

from apiaries.entries import moment_words
from apiaries.models import Colony, Person, Yard
from apiaries.views.asking import today_in
from counts.entries import VERSION
from counts.forms.planning import USUAL
from counts.models import MiteSample
from counts.planning import SPARES, in_fair_order
from counts.presenters import raw_words

LAST = 12
LAST_FROM = dt.timedelta(days=2)
"""The newest counts of a person that the page offers to undo or correct; older ones have pages (our choice)."""


def phone_of(yard: Yard, person: Person, colonies: list[Colony]) -> dict[str, Any]:
    """What the script of a count page works with: nothing of anybody but this person, and no place."""
    today = today_in(yard)
    drawn = in_fair_order(yard, on=today)
    chosen = min(USUAL, len(drawn))
    return {
        "v": VERSION,
        "person": person.pk,
        "name": person.name,
        "cookie": settings.CSRF_COOKIE_NAME,
        "zone": yard.time_zone,
        "url": reverse("counts:yard-entries", args=[yard.pk]),
        "colonies": [{"id": one.pk, "name": one.name} for one in colonies],
        "drawn": {
            "on": today.isoformat(),
            "chosen": [one.pk for one in drawn[:chosen]],
            "spares": [one.pk for one in drawn[chosen : chosen + SPARES]],
        },
        "state": state_of(yard, person),
    }


def state_of(yard: Yard, person: Person) -> dict[str, Any]:
    """The server's clock, and the person's newest counts in this yard that stand. One query."""
    now = timezone.now()
    mine = MiteSample.objects.standing().filter(
        yard=yard, recorded_by=person, recorded_at__gte=now - LAST_FROM
    )
    return {
        "read_at": moment_words(now),
        "last": [
            {
                "key": str(one.entry_key),
                "colony": one.colony_id,
                "name": one.colony.name,
                "words": f"{raw_words(one)}, {one.get_method_display()}",
                "on": one.sampled_on.isoformat(),
                "page": reverse("counts:sample-detail", args=[one.pk]),
            }
            for one in mine.select_related("colony").order_by("-recorded_at", "-pk")[:LAST]
        ],
    }
