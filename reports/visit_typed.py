"""The boxes of a visit's form as a flat table: as they were sent, and as a kept visit would be typed."""

from collections.abc import Mapping
from typing import Any

from django import forms

from apiaries.visit_facts import COLUMNS, NewSuspicion, NewVisit

OF_THE_PAGE = ("csrfmiddlewaretoken", "step")


def flat(posted: Mapping[str, Any]) -> dict[str, str]:
    """The boxes of a sent form as they were typed, without what belongs to the page; empty ones are left out."""
    return {name: str(value) for name, value in posted.items() if name not in OF_THE_PAGE and str(value)}


def typed_of(new: NewVisit) -> dict[str, Any]:
    """A kept visit as the boxes of its form, to start a correction with; its entry key is not taken along."""
    boxes: dict[str, Any] = {name: getattr(new, name) for name in COLUMNS if name != "drawn"}
    boxes["drawn_on"] = new.drawn_on or new.visited_on
    for finding in new.findings:
        start = f"f{finding.colony.pk}-"
        boxes |= {f"{start}{name}": code for name, code in finding.codes.items()}
        boxes |= {f"{start}opened": True, f"{start}remark": finding.remark}
    for one in new.suspicions:
        start = f"f{one.colony.pk}-" if one.colony else ""
        boxes |= {f"{start}disease": one.disease, f"{start}disease_seen": one.seen}
    for n, order in enumerate(new.orders, 1):
        boxes |= {f"o{n}-what": order.what, f"o{n}-due_on": order.due_on}
    for n, sample in enumerate(new.lab_samples, 1):
        names = ("number", "what", "sent_to", "results_to")
        boxes |= {f"l{n}-{name}": getattr(sample, name) for name in names}
    return boxes


def of_yard(cleaned: Mapping[str, Any], duties: Mapping[str, str]) -> tuple[NewSuspicion, ...]:
    """What is suspected in the yard as a whole, if anything."""
    if not cleaned["disease"]:
        return ()
    return (
        NewSuspicion(
            disease=cleaned["disease"], duty=duties[cleaned["disease"]], seen=cleaned["disease_seen"]
        ),
    )


def anchor_of(field: forms.BoundField) -> str:
    """Where a link to the box leads; empty for a hidden one."""
    if field.is_hidden:
        return ""
    return field.id_for_label or f"{field.auto_id}_0"
