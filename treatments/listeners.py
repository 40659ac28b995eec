"""Hears what changed here and in the layers below, inside the transaction that changed it."""

import datetime as dt
from collections.abc import Collection
from typing import Any

from django.db.models.signals import post_save
from django.dispatch import receiver

from apiaries.models import Club, Yard
from apiaries.second_lock import as_the_service
from apiaries.signals import colonies_changed
from counts.signals import ToWrite, samples_changed
from treatments.chain_actions import note_uses
from treatments.models import Dose, Treatment
from treatments.signals import treatment_changed
from treatments.yard_outlooks import mark_stale, stale_of


@receiver(samples_changed, dispatch_uid="treatments.outlook_of_counts")
def counts_changed(touched: frozenset[tuple[int, dt.date]], **_: Any) -> ToWrite:
    """Counts of these yards changed."""
    return stale_of(yard for yard, _month in touched)


@receiver(colonies_changed, dispatch_uid="treatments.outlook_of_colonies")
def colonies_came_or_left(yards: frozenset[int], **_: Any) -> None:
    """Colonies came to these yards, left them or ended."""
    mark_stale(yards)


@receiver(treatment_changed, dispatch_uid="treatments.outlook_of_treatments")
def treated(treatment: Treatment, **_: Any) -> None:
    """Something was given in this yard, or to colonies that stand in others by now."""
    doses = Dose.objects.filter(round__treatment=treatment)
    mark_stale({treatment.yard_id, *doses.values_list("colony__yard_id", flat=True)})
    # After the yards: whoever waits for a chain holds all others already.
    note_uses([treatment.pk])


@receiver(post_save, sender=Club, dispatch_uid="treatments.outlook_of_levels")
def levels_chosen(
    instance: Club, created: bool, update_fields: Collection[str] | None = None, **_: Any
) -> None:
    """The club may have chosen another issuer, whose level its outlooks are about."""
    if not created and (update_fields is None or "action_level_issuer" in update_fields):
        with as_the_service():  # yards of everybody
            mark_stale(Yard.objects.filter(club=instance).values_list("pk", flat=True))
