"""Region figures, kept so that a page reads a handful of rows however many counts there are.

Everything in them can be worked out again from the counts.
"""

from django.db import models
from django.db.models import F, Q

from apiaries.models import Person, Region, Yard


class YardMonth(models.Model):
    """All standing counts of one kind in one yard and month, added up: one yard, one vote.

    For the region figures. Recomputed whole in the transaction that changes a count.
    """

    yard = models.ForeignKey(Yard, on_delete=models.CASCADE, related_name="months")
    region = models.ForeignKey(Region, on_delete=models.CASCADE, related_name="+")
    keeper = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    month = models.DateField(help_text="Its first day.")
    kind = models.CharField(max_length=12)
    samples = models.PositiveIntegerField()
    colonies = models.PositiveIntegerField()
    zeros = models.PositiveIntegerField(help_text="Counts in which no mite was found.")
    mites = models.PositiveBigIntegerField()
    bees = models.PositiveBigIntegerField(null=True)
    exposure = models.FloatField(
        help_text="Bees times the share a method recovers, or board days times the share counted."
    )
    squared_cv = models.FloatField(
        help_text="Of the yard's mean: between colonies and within, as the yard estimate has it."
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["yard", "month", "kind"], name="reports_yardmonth_once"),
            models.CheckConstraint(condition=Q(month__day=1), name="reports_yardmonth_first_day"),
            models.CheckConstraint(
                condition=Q(samples__gte=1, zeros__lte=F("samples"), exposure__gt=0),
                name="reports_yardmonth_not_empty",
            ),
        ]
        indexes = [models.Index(fields=["region", "month", "kind"], name="reports_yardmonth_region")]

    def __str__(self) -> str:
        return f"{self.yard_id} {self.month} {self.kind}"


class RegionMonthMark(models.Model):
    """'This region and month need working out again.' Append-only: writers never wait for each other here."""

    region = models.ForeignKey(Region, on_delete=models.CASCADE, related_name="+")
    month = models.DateField()
    marked_at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["marked_at"], name="reports_mark_oldest")]

    def __str__(self) -> str:
        return f"{self.region_id} {self.month}"


class RegionMonth(models.Model):
    """One region's month and kind of count, as its page shows it. At most a minute or two behind the counts.

    `reason` is empty when the figures may be shown; else it says why not, and the page shows that instead.
    """

    region = models.ForeignKey(Region, on_delete=models.CASCADE, related_name="months")
    month = models.DateField(help_text="Its first day.")
    kind = models.CharField(max_length=12)
    yards = models.PositiveIntegerField()
    keepers = models.PositiveIntegerField()
    colonies = models.PositiveIntegerField()
    samples = models.PositiveIntegerField()
    zeros = models.PositiveIntegerField()
    mites = models.PositiveBigIntegerField()
    bees = models.PositiveBigIntegerField(null=True)
    rate = models.FloatField(null=True)
    low = models.FloatField(null=True)
    high = models.FloatField(null=True)
    median = models.FloatField(null=True)
    share_above = models.FloatField(null=True)
    share_low = models.FloatField(null=True)
    share_high = models.FloatField(null=True)
    level_key = models.CharField(
        max_length=80, blank=True, help_text="The action level that the share is about."
    )
    reason = models.CharField(max_length=40, blank=True)
    method = models.JSONField(help_text="Method version and constants.")
    computed_at = models.DateTimeField()
    frozen_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["month", "region__name", "kind"]
        constraints = [
            models.UniqueConstraint(fields=["region", "month", "kind"], name="reports_regionmonth_once"),
            models.CheckConstraint(condition=Q(month__day=1), name="reports_regionmonth_first_day"),
            models.CheckConstraint(
                condition=Q(rate=None, low=None, high=None)
                # A comparison with NULL is neither true nor false, and a CHECK lets that pass.
                | Q(rate__isnull=False, low__isnull=False, high__isnull=False)
                & Q(low__lte=F("rate"), rate__lte=F("high")),
                name="reports_regionmonth_rate_has_a_range",
            ),
            models.CheckConstraint(
                condition=Q(share_above=None, share_low=None, share_high=None)
                | Q(share_above__isnull=False, share_low__isnull=False, share_high__isnull=False)
                & Q(share_low__lte=F("share_high")),
                name="reports_regionmonth_share_has_a_range",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.region} {self.month} {self.kind}"
