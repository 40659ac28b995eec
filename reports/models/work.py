"""What was done without anybody's click: one row for each host and kind of work, and no growing log."""

from django.db import models
from django.db.models import Q


class WorkDone(models.Model):
    """The last time one host came to the end of one kind of work. Written by the work itself: a process that runs and
    hears nothing writes nothing."""

    work = models.CharField(max_length=24)
    host = models.CharField(max_length=80)
    at = models.DateTimeField(help_text="When it last came to an end, good or bad.")
    done_at = models.DateTimeField(null=True, blank=True, help_text="When it last came to a good end.")
    done = models.PositiveBigIntegerField(default=0, help_text="How often, since the row is there.")
    failed = models.PositiveBigIntegerField(default=0)
    took_ms = models.PositiveIntegerField(help_text="The last time.")

    class Meta:
        ordering = ["host", "work"]
        constraints = [
            models.UniqueConstraint(fields=["work", "host"], name="reports_workdone_once"),
            models.CheckConstraint(
                condition=Q(done=0, done_at=None) | Q(done__gt=0, done_at__isnull=False),
                name="reports_workdone_done_has_a_time",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.work} on {self.host} at {self.at}"
