"""Tries to back the database up: written by `manage.py backup` as each ends, well or not."""

from django.db import models
from django.db.models import Q

WHY_NOT_MOST = 300  # characters


class BackupRun(models.Model):
    """One try that came to its end. What was killed in the middle has no row: the age of the last good one tells."""

    begun_at = models.DateTimeField(help_text="Nothing that was saved later is in it.")
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
