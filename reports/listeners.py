"""Hears what changed in the layers below, inside the transaction that changed it."""

import datetime as dt
from typing import Any

from django.db.models.signals import post_save
from django.dispatch import receiver

from apiaries.models import Club, Yard
from counts.signals import samples_changed
from reports.models import YardMonth
from reports.rollup import follow_yard, mark_regions, recompute_yard_months


@receiver(samples_changed, dispatch_uid="reports.rollup")
def add_up_again(touched: frozenset[tuple[int, dt.date]], **_: Any) -> None:
    """Counts of these yards and months changed."""
    recompute_yard_months(touched)


@receiver(post_save, sender=Yard, dispatch_uid="reports.follow_yard")
def take_months_along(instance: Yard, created: bool, **_: Any) -> None:
    """A yard may have changed its region."""
    if not created:
        follow_yard(instance)


@receiver(post_save, sender=Club, dispatch_uid="reports.club_levels")
def mark_all_months(instance: Club, created: bool, **_: Any) -> None:
    """The club may have chosen another issuer, whose levels its shares are about."""
    if not created:
        mark_regions(YardMonth.objects.filter(region__club=instance).values_list("region_id", "month"))
