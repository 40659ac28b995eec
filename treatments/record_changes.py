"""What was changed in the record fields of treatments: what stood there, what stands there, who, when and why."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

from django.apps import apps

from apiaries.language import mark, say, say_many
from apiaries.models import Person
from apiaries.zones import zone_of
from treatments.day_actions import FINISHED
from treatments.medicine_actions import RECORD_FIELDS
from treatments.models import Treatment

FIELD_WORDS = {
    "product": mark("Product"),
    "batch": mark("Batch number"),
    "registration": mark("Registration number"),
    "supplier": mark("Supplier"),
    "supplier_address": mark("Supplier's address"),
    "proof": mark("Proof of purchase"),
    "vet": mark("Veterinarian"),
    "given_by": mark("Given by"),
    "withdrawal_days": mark("Withdrawal period"),
}


@dataclass(frozen=True, slots=True)
class Change:
    """One field as it was and as it became; `old` is empty where it was filled in."""

    field: str
    old: str
    new: str
    by: str
    at: dt.datetime
    why: str


def changes_of(treatments: Sequence[Treatment]) -> dict[int, list[Change]]:
    """Changes of each treatment, oldest first, in two queries however many there are."""
    events: dict[int, list[Any]] = {}
    kept = (
        apps.get_model("treatments", "TreatmentEvent")
        .objects.filter(pgh_obj__in=[one.pk for one in treatments])
        .select_related("pgh_context")
    )
    for event in kept.order_by("pgh_id"):
        events.setdefault(event.pgh_obj_id, []).append(event)
    zones = {one.pk: zone_of(one.yard.time_zone) for one in treatments}
    names = dict(Person.objects.filter(pk__in=_people(events)).values_list("pk", "name"))
    return {
        pk: [change for old, new in pairwise(rows) for change in _changes(old, new, names, zones[pk])]
        for pk, rows in events.items()
    }


def _told(event: Any) -> dict[str, Any]:
    return event.pgh_context.metadata if event.pgh_context else {}


def _people(events: dict[int, list[Any]]) -> set[int]:
    return {_told(event)["by"] for rows in events.values() for event in rows if _told(event).get("by")}


def _changes(old: Any, new: Any, names: dict[int, str], zone: ZoneInfo) -> list[Change]:
    told = _told(new)
    at = dt.datetime.fromisoformat(told["at"]) if "at" in told else new.pgh_created_at
    by = names.get(told.get("by", 0), "")
    return [
        Change(
            say(FIELD_WORDS[name]),
            _text(old, name),
            _text(new, name),
            by,
            at.astimezone(zone),
            _why(told.get("why", "")),
        )
        for name in RECORD_FIELDS
        if getattr(old, name) != getattr(new, name)
    ]


def _why(why: str) -> str:
    """The reason as it was typed; the one that we give ourselves in the reader's language."""
    return say(why) if why == FINISHED else why


def _text(event: Any, name: str) -> str:
    value = getattr(event, name)
    if name == "withdrawal_days" and value is not None:
        return say_many("{n} day", "{n} days", value)
    return value or ""
