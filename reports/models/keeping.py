"""Tries to back the database up, and the pause of all mail that follows a restore."""

from django.db import models
from django.db.models import Q

WHY_NOT_MOST = 300  # characters


class BackupRun(models.Model):
    """One try that came to its end. What was killed in the middle has no row: the age of the last good one tells."""

    begun_at = models.DateTimeField(help_text="Whatever was saved until then is in it.")
    ended_at = models.DateTimeField()
    ok = models.BooleanField()
    bytes = models.BigIntegerField(null=True, blank=True, help_text="Of all its files.")
    rows = models.BigIntegerField(null=True, blank=True, help_text="Of all tables.")
    why_not = models.CharField(
        max_length=WHY_NOT_MOST, blank=True, help_text="A sentence of ours, without addresses or passwords."
    )

    class Meta:
        ordering = ["-ended_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(ok=True, why_not="", bytes__isnull=False, rows__isnull=False)
                | Q(ok=False, bytes=None, rows=None) & ~Q(why_not=""),
                name="reports_backuprun_whole_or_why",
            )
        ]

    def __str__(self) -> str:
        return f"backup of {self.begun_at}: {self.why_not or 'whole'}"


class SendingPause(models.Model):
    """While one is open, no reminder is planned or sent. A restore leaves one, and the operator ends it.

    Several may be open: a backup made during a pause brings its own along.
    """

    since = models.DateTimeField()
    why = models.CharField(max_length=WHY_NOT_MOST, help_text="A sentence of ours.")
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-since", "-pk"]

    def __str__(self) -> str:
        return f"no mail since {self.since}: {self.why}"
