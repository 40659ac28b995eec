"""By when a yard should be counted again, kept so that it can be asked for."""

from django.db import models
from django.db.models import Q

from apiaries.models import Yard


class YardOutlook(models.Model):
    """By when the last washes or rolls of a yard say to count again, or in a word why no day is given.

    Materialised so that "which yards should count again by then" is one query. It follows from the yard's counts,
    colonies and treatments and is nobody's fact: `treatments.yard_outlooks` marks it stale in the transaction that
    changes one of these and works it out soon after.
    """

    yard = models.OneToOneField(Yard, primary_key=True, on_delete=models.CASCADE, related_name="outlook")
    sampled_on = models.DateField(null=True, help_text="The last count it rests on.")
    count_by = models.DateField(null=True)
    why_none = models.CharField(max_length=24, blank=True)
    capped = models.BooleanField(
        default=False, help_text="Whether the day is merely as far as an outlook reaches."
    )
    # What it rests on besides the yard's own records; when these move, so may the day.
    level = models.FloatField(null=True)
    spread = models.FloatField(null=True)
    computed_at = models.DateTimeField(null=True)
    stale = models.BooleanField(default=True)

    class Meta:
        indexes = [
            models.Index(fields=["yard"], condition=Q(stale=True), name="treatments_outlook_stale"),
            models.Index(
                fields=["count_by"], condition=Q(count_by__isnull=False), name="treatments_outlook_count_by"
            ),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(count_by=None) | Q(sampled_on__isnull=False, why_none=""),
                name="treatments_outlook_day_or_why",
            ),
            models.CheckConstraint(
                condition=Q(stale=True) | Q(computed_at__isnull=False), name="treatments_outlook_worked_out"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.yard}: count again by {self.count_by or self.why_none}"
