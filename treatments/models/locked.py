"""Medicine records of people who are forgotten, under lock until the day that a rule names."""

import datetime as dt
from typing import Self

from django.db import models
from django.db.models import Q

from apiaries.models import Club, Person, Region
from apiaries.permissions import Role
from treatments.medicine import Entry, Regime


class LockedEntryQuerySet(models.QuerySet["LockedEntry"]):
    def visible_to(self, person: Person) -> Self:
        """Of the regions assigned to an inspector; none for everybody else, administrators too."""
        membership = person.membership
        if membership is None or membership.role != Role.INSPECTOR:
            return self.none()
        regions = membership.regions.values("pk")
        return self.filter(club=membership.club_id, regions__in=regions).distinct()

    def over(self, on: dt.date) -> Self:
        """Those whose last day is past."""
        return self.filter(kept_until__lt=on)


class LockedEntry(models.Model):
    """One entry of a medicine record, whole, with the keeper's name: nothing else of the person is kept.

    Written once, when the person is forgotten, and deleted after `kept_until`. It has no row history: that would
    outlive it.
    """

    keeper = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    club = models.ForeignKey(Club, null=True, on_delete=models.PROTECT, related_name="+")
    regions = models.ManyToManyField(Region, related_name="+", help_text="Whose inspectors may read it.")
    kind = models.CharField(max_length=8, choices=[(entry.value, entry.value) for entry in Entry])
    entry_id = models.BigIntegerField(help_text="Key of the row that it was made from.")
    last_on = models.DateField(help_text="The day from which the term runs.")
    kept_until = models.DateField()
    regime = models.CharField(max_length=4, choices=[(regime.value, regime.value) for regime in Regime])
    years = models.PositiveSmallIntegerField()
    only_if = models.CharField(max_length=200, blank=True, help_text="The case in which the rule holds.")
    source = models.CharField(max_length=1000)
    content = models.JSONField(help_text="The keeper's name, and rows as in the file for spreadsheets.")
    locked_at = models.DateTimeField()

    objects = LockedEntryQuerySet.as_manager()

    class Meta:
        ordering = ["kept_until", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["kind", "entry_id"], name="treatments_lockedentry_once"),
            models.CheckConstraint(
                condition=Q(kept_until__gt=models.F("last_on")), name="treatments_lockedentry_ends_later"
            ),
        ]
        indexes = [models.Index(fields=["kept_until"], name="treatments_locked_until")]

    def __str__(self) -> str:
        return f"{self.kind} {self.entry_id}, kept until {self.kept_until}"
