"""Hears what changed in the layers below, inside the transaction that changed it."""

import datetime as dt
from collections.abc import Collection
from typing import Any

from django.db.models.signals import post_save
from django.dispatch import receiver

from apiaries.models import Yard
from counts.signals import ToWrite, samples_changed
from reports.rollup import follow_counts, follow_place, follow_treatment, follow_yard
from treatments.models import Treatment
from treatments.signals import treatment_changed


@receiver(samples_changed, dispatch_uid="reports.rollup")
def add_up_again(touched: frozenset[tuple[int, dt.date]], **_: Any) -> ToWrite | None:
    """Counts of these yards and months changed."""
    return follow_counts(touched)


@receiver(post_save, sender=Yard, dispatch_uid="reports.follow_yard")
def take_months_along(
    instance: Yard, created: bool, update_fields: Collection[str] | None = None, **_: Any
) -> None:
    """A yard may have changed its region, or its place."""
    if not created:
        follow_yard(instance)
        if update_fields is None or "cell" in update_fields:
            follow_place(instance)


@receiver(treatment_changed, dispatch_uid="reports.follow_treatment")
def tell_treated_apart(treatment: Treatment, **_: Any) -> None:
    """A treatment was given, moved or cancelled: how long ago the yard's later counts were treated hangs on it."""
    given = [round_.given_on for round_ in treatment.rounds.all() if round_.given_on is not None]
    if given:
        follow_treatment(treatment.yard_id, min(given))
