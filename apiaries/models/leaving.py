"""Wishes to leave and be forgotten, with the days in which they can be called off."""

import datetime as dt

from django.db import models
from django.db.models import F, Q

from apiaries.history import keeps_history
from apiaries.models.people import Person


class How(models.TextChoices):
    """Who said it."""

    OWN = "own", "the person, signed in"
    IN_WRITING = "in_writing", "an administrator, on the person's written wish"
    CONSOLE = "console", "who runs the server, at its console"


class LeavingQuerySet(models.QuerySet["Leaving"]):
    def open(self) -> "LeavingQuerySet":
        """Neither called off nor done."""
        return self.filter(called_off_at=None, done_at=None)

    def due(self, at: dt.datetime) -> "LeavingQuerySet":
        """Open ones whose days are over."""
        return self.open().filter(due_at__lte=at)


@keeps_history
class Leaving(models.Model):
    """One wish to be forgotten. Until `due_at` it can be called off; then everything goes that goes."""

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="leavings")
    how = models.CharField(max_length=12, choices=How.choices)
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(
        Person,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="+",
        help_text="Empty: at the console.",
    )
    due_at = models.DateTimeField()
    called_off_at = models.DateTimeField(null=True, blank=True)
    called_off_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    done_at = models.DateTimeField(null=True, blank=True)
    looked_again_at = models.DateTimeField(
        null=True,
        blank=True,
        help_text="When what came in at the last moment was looked for and removed too.",
    )

    objects = LeavingQuerySet.as_manager()

    class Meta:
        ordering = ["asked_at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["person"],
                condition=Q(called_off_at=None, done_at=None),
                name="apiaries_leaving_one_open",
            ),
            models.CheckConstraint(condition=Q(how__in=How.values), name="apiaries_leaving_how_known"),
            models.CheckConstraint(
                condition=Q(called_off_at=None, called_off_by=None)
                | Q(called_off_at__isnull=False, called_off_by__isnull=False, done_at=None),
                name="apiaries_leaving_called_off_whole",
            ),
            models.CheckConstraint(condition=Q(due_at__gte=F("asked_at")), name="apiaries_leaving_due_later"),
        ]

    def __str__(self) -> str:
        return f"leaving of {self.person_id} on {self.due_at}"
