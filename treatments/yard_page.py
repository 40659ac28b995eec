"""The page for the yard: the day's sheet to tick on a phone. What it shows is worked out there, from the ticks."""

from typing import Any

from django.conf import settings
from django.urls import reverse
from django.utils import timezone

from apiaries.entries import moment_words
from apiaries.language import mark, say
from apiaries.models import Person
from treatments.day_sheet import VAPOUR, times_of
from treatments.models import DaySheet, SheetHive, SheetMark
from treatments.sheet_page import SEALING
from treatments.ways import cautions_for

SHORT_VAPOUR = mark("The label decides. Mask, goggles and acid-proof gloves on; stand upwind.")
SHORT_OTHER = mark("The label decides. Gloves as it says, goggles, water at hand.")
"""Cautions in short; all of them are folded below, because the hives come first on a phone."""


def yard_page(found: DaySheet, person: Person) -> dict[str, Any]:
    """Context of the page; `phone` is what its script works with."""
    treatment = found.round.treatment
    hives = list(found.hives.select_related("colony"))
    vapour = treatment.application.way == VAPOUR
    return {
        "found": found,
        "round": found.round,
        "treatment": treatment,
        "yard": treatment.yard,
        "hives": hives,
        "vapour": vapour,
        "closed": is_closed(found),
        "caution": say(SHORT_VAPOUR if vapour else SHORT_OTHER),
        "more_cautions": cautions_for(treatment.application),
        "sealing": [say(one) for one in SEALING] if vapour else [],
        "phone": _phone(found, hives, person, vapour=vapour),
    }


def is_closed(found: DaySheet) -> bool:
    """Whether nothing can be ticked any more."""
    return found.round.given_on is not None or found.round.treatment.cancelled_at is not None


def state_of(found: DaySheet) -> dict[str, Any]:
    """All ticks, the undone ones too, as they stand now. One query."""
    marks = SheetMark.objects.filter(hive__sheet=found).order_by("at", "pk")
    return {
        "made": moment_words(found.recorded_at),
        "read_at": moment_words(timezone.now()),
        "closed": is_closed(found),
        "marks": [
            {
                "key": str(mark.entry_key),
                "hive": mark.hive_id,
                "step": mark.step,
                "at": moment_words(mark.at),
                "remark": mark.remark,
                "undone": mark.undone_at is not None,
            }
            for mark in marks
        ],
    }


def _phone(found: DaySheet, hives: list[SheetHive], person: Person, *, vapour: bool) -> dict[str, Any]:
    times = times_of(found.device)
    return {
        "person": person.pk,
        "name": person.name,
        "cookie": settings.CSRF_COOKIE_NAME,
        "zone": found.round.treatment.yard.time_zone,
        "url": reverse("treatments:round-marks", args=[found.round.treatment_id, found.round.number]),
        "vapour": vapour,
        "hives": [
            {"id": hive.pk, "name": hive.colony.name, "loads": hive.loads, "place": hive.position}
            for hive in hives
        ],
        "minutes": {
            "heaters": found.heaters,
            "first": times.first,
            "following": times.following,
            "wait": float(found.wait_minutes),
            "sealed": float(found.sealed_minutes),
        },
        "state": state_of(found),
    }
