"""What the count pages tell a phone that keeps them: the yard's colonies and the person's own last counts there."""

import datetime as dt
from collections.abc import Iterable
from typing import Any

from django.conf import settings
from django.db.models import Count, Q, QuerySet
from django.urls import reverse
from django.utils import timezone

from apiaries.entries import moment_words
from apiaries.language import mark, say
from apiaries.models import Colony, Person, Yard
from apiaries.views.asking import today_in
from counts.entries import VERSION
from counts.forms import as_typed
from counts.forms.planning import USUAL
from counts.forms.sample import MITES_MISSING
from counts.models import MiteSample
from counts.models.sampled import version_after
from counts.planning import SPARES, in_fair_order
from counts.presenters import raw_words
from counts.samples import Problem
from counts.sentences import PROBLEM_SENTENCES

WRONG = {
    "mites": MITES_MISSING,
    "method": mark("Choose how you counted."),
    "bees": PROBLEM_SENTENCES[Problem.BEES_NOT_POSITIVE],
    "board_days": PROBLEM_SENTENCES[Problem.DAYS_NOT_POSITIVE],
    "treatment_in_hive": mark("Say whether a treatment was in the hive while the board lay."),
    "cells_opened": mark("Enter how many drone cells you opened, at least 1."),
    "sampled_on": mark("Enter the date, for example 12 Aug 2026."),
    "why": mark("Say what was wrong, for example: read the slip wrongly."),
}
"""What the phone says at a box by itself, without a network; the form says the same."""
LAST = 12
LAST_FROM = dt.timedelta(days=2)
"""The newest counts of a person that the page offers to undo or correct; older ones have pages (our choice)."""


def phone_of(
    yard: Yard, person: Person, *, living: Iterable[Colony] | None = None, only: Colony | None = None
) -> dict[str, Any]:
    """What the script of a count page works with: nothing of anybody but this person, and no place."""
    colonies = list(_living(yard) if living is None else living)
    today = today_in(yard)
    drawn = in_fair_order(yard, on=today, living=colonies)
    chosen = min(USUAL, len(drawn))
    return {
        "v": VERSION,
        "person": person.pk,
        "name": person.name,
        "cookie": settings.CSRF_COOKIE_NAME,
        "zone": yard.time_zone,
        "url": reverse("counts:yard-entries", args=[yard.pk]),
        "only": None if only is None else only.pk,
        "words": {box: say(words) for box, words in WRONG.items()},
        "drawn": {
            "on": today.isoformat(),
            "chosen": [one.pk for one in drawn[:chosen]],
            "spares": [one.pk for one in drawn[chosen : chosen + SPARES]],
        },
        "state": state_of(yard, person, living=colonies),
    }


def state_of(yard: Yard, person: Person, *, living: Iterable[Colony] | None = None) -> dict[str, Any]:
    """The server's clock, the colonies, which were counted or entered lately, and the person's newest counts here.

    Only counts that stand. At most three queries; one less where nobody counted lately.
    """
    now = timezone.now()
    here = MiteSample.objects.standing().filter(yard=yard)
    since = now - LAST_FROM
    lately = here.filter(Q(sampled_on__gte=since.date()) | Q(recorded_at__gte=since))
    counted = list(lately.values_list("colony", "sampled_on").distinct())
    return {
        "read_at": moment_words(now),
        "colonies": [
            {"id": one.pk, "name": one.name} for one in (_living(yard) if living is None else living)
        ],
        "counted": [[colony, on.isoformat()] for colony, on in counted],
        "last": [
            {
                "key": str(one.entry_key),
                "colony": one.colony_id,
                "name": one.colony.name,
                "words": f"{raw_words(one)}, {one.get_method_display()}",
                "on": one.sampled_on.isoformat(),
                "at": moment_words(one.recorded_at),
                "seen": version_after(one.times_restored, voided=False),
                "typed": _typed(one),
            }
            for one in (_newest(here.filter(recorded_by=person, recorded_at__gte=since)) if counted else ())
        ],
    }


def _newest(samples: "QuerySet[MiteSample]") -> Iterable[Any]:
    told = samples.annotate(times_restored=Count("restorations")).select_related("colony", "yard__club")
    return told.order_by("-recorded_at", "-pk")[:LAST]


def _living(yard: Yard) -> Iterable[Colony]:
    return yard.colonies.living().in_reading_order()


def _typed(sample: MiteSample) -> dict[str, str]:
    """The boxes as they would be typed, to begin a correction with."""
    return {name: "" if value is None else str(value) for name, value in as_typed(sample).items()}
