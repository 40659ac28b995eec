"""Region figures, kept so that a page reads a handful of rows however many counts there are.

Everything in them can be worked out again from the counts.
"""

import pgtrigger
from django.db import models
from django.db.models import F, Q

from apiaries.models import Club, Person, Region, Yard
from counts.models import EstimateBasis
from reports.parts import Part


class BroodSeen(models.TextChoices):
    """What was seen of brood in the colonies counted in a yard and month."""

    WITH = "with", "with brood"
    WITHOUT = "without", "without brood"
    MIXED = "mixed", "some with and some without, or nobody looked"


class YardMonth(models.Model):
    """All standing counts of one kind in one yard and month, added up: one yard, one vote.

    For the region figures. Recomputed whole in the transaction that changes a count.
    """

    # The constraint and the index below begin with these two; one more of each would only be written. Region and keeper
    # are the yard's, whose own keys are checked: to check them again took half the time of writing a million rows.
    yard = models.ForeignKey(Yard, on_delete=models.CASCADE, related_name="months", db_index=False)
    region = models.ForeignKey(
        Region, on_delete=models.CASCADE, related_name="+", db_index=False, db_constraint=False
    )
    keeper = models.ForeignKey(
        Person, on_delete=models.CASCADE, related_name="+", db_index=False, db_constraint=False
    )
    month = models.DateField(help_text="Its first day.")
    kind = models.CharField(max_length=12)
    brood = models.CharField(max_length=8, choices=BroodSeen.choices, default=BroodSeen.MIXED)
    treated_days = models.PositiveIntegerField(
        null=True, help_text="From the yard's last treatment to the last count; empty if none within a year."
    )
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


class RegionEdition(models.Model):
    """When a region's live figures were last worked out, and how often they changed: a page that keeps what it drew
    keeps it under this number."""

    region = models.OneToOneField(Region, on_delete=models.CASCADE, primary_key=True, related_name="+")
    edition = models.PositiveBigIntegerField(default=0)
    worked_out_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.region_id} edition {self.edition}"


class RegionMonth(models.Model):
    """One region's month and kind of count, of all its yards or a part of them. At most a minute or two behind the
    counts.

    `reason` is empty when the figures may be shown; else it says why not, and the page shows that instead. A row with
    `frozen_at` is what was published; it stays as it was, beside the row that goes on following the counts.
    """

    region = models.ForeignKey(Region, on_delete=models.CASCADE, related_name="months")
    month = models.DateField(help_text="Its first day.")
    kind = models.CharField(max_length=12)
    part = models.CharField(max_length=16, default=Part.ALL, help_text="Which yards; see reports.parts.")
    yards = models.PositiveIntegerField()
    keepers = models.PositiveIntegerField()
    colonies = models.PositiveIntegerField()
    samples = models.PositiveIntegerField()
    zeros = models.PositiveIntegerField(help_text="Counts in which no mite was found.")
    mites = models.PositiveBigIntegerField()
    bees = models.PositiveBigIntegerField(null=True)
    board_days = models.FloatField(
        null=True, help_text="Of boards: days, times the share counted, of all yards."
    )
    yards_effective = models.FloatField(
        null=True, help_text="Yards that the figures rest on, less for several of one keeper."
    )
    rate = models.FloatField(null=True)
    low = models.FloatField(null=True)
    high = models.FloatField(null=True)
    exposure = models.FloatField(null=True, help_text="All mites over it are the rate.")
    squared_cv = models.FloatField(null=True, help_text="Of the rate, for drawing regions together.")
    median = models.FloatField(null=True)
    tenth = models.FloatField(null=True, help_text="Nine in ten yards are above.")
    ninetieth = models.FloatField(null=True, help_text="One in ten yards is above.")
    shares = models.JSONField(
        default=dict,
        help_text="By an action level's key: share of yards above it, low and high end of its range.",
    )
    reason = models.CharField(max_length=40, blank=True)
    basis = models.ForeignKey(EstimateBasis, on_delete=models.PROTECT, related_name="+")
    computed_at = models.DateTimeField()
    frozen_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["month", "region__name", "kind", "part"]
        indexes = [
            # For the same month of all years, which a page shows beside a year.
            models.Index(
                fields=["region", "kind", "part", "month"],
                include=["rate", "low", "high", "bees", "board_days", "median"],
                condition=Q(frozen_at=None),
                name="reports_regionmonth_years",
            )
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["region", "month", "kind", "part"],
                condition=Q(frozen_at=None),
                name="reports_regionmonth_once",
            ),
            models.UniqueConstraint(
                fields=["region", "month", "kind", "part"],
                condition=Q(frozen_at__isnull=False),
                name="reports_regionmonth_published_once",
            ),
            models.CheckConstraint(condition=Q(month__day=1), name="reports_regionmonth_first_day"),
            models.CheckConstraint(
                condition=Q(part__in=[part.value for part in Part]), name="reports_regionmonth_part_known"
            ),
            models.CheckConstraint(
                condition=Q(rate=None, low=None, high=None)
                # A comparison with NULL is neither true nor false, and a CHECK lets that pass.
                | Q(rate__isnull=False, low__isnull=False, high__isnull=False)
                & Q(low__lte=F("rate"), rate__lte=F("high")),
                name="reports_regionmonth_rate_has_a_range",
            ),
            models.CheckConstraint(
                condition=Q(reason="") | Q(rate=None, median=None, tenth=None, ninetieth=None, shares={}),
                name="reports_regionmonth_hidden_has_no_figures",
            ),
        ]
        triggers = [
            pgtrigger.Protect(
                name="published_stays",
                operation=pgtrigger.Update,
                condition=pgtrigger.Q(old__frozen_at__isnull=False),
            )
        ]

    def __str__(self) -> str:
        return f"{self.region} {self.month} {self.kind} {self.part}"


class Publication(models.Model):
    """One month of a club as it was published, all regions and kinds at once: the rows of `RegionMonth` with this
    moment as `frozen_at`. Done once. A region or kind without such a row had no counts then."""

    club = models.ForeignKey(Club, on_delete=models.CASCADE, related_name="publications")
    month = models.DateField(help_text="Its first day.")
    published_at = models.DateTimeField()

    class Meta:
        ordering = ["month"]
        constraints = [
            models.UniqueConstraint(fields=["club", "month"], name="reports_publication_once"),
            models.CheckConstraint(condition=Q(month__day=1), name="reports_publication_first_day"),
        ]

    def __str__(self) -> str:
        return f"{self.club} {self.month}"


class AreaMonth(models.Model):
    """What a map may show of a region's month: the region as a whole, and pieces of it where these may be told apart.

    Kept for the last years only, beside the live `RegionMonth` and by the same marks; never published.
    """

    region = models.ForeignKey(Region, on_delete=models.CASCADE, related_name="+")
    month = models.DateField(help_text="Its first day.")
    kind = models.CharField(max_length=12)
    piece = models.CharField(
        max_length=16, blank=True, help_text="Its H3 cell; empty for the region as a whole."
    )
    cells = models.JSONField(
        help_text="H3 cells to draw, whole; never one in which fewer than three keepers counted."
    )
    yards = models.PositiveIntegerField()
    keepers = models.PositiveIntegerField()
    samples = models.PositiveIntegerField()
    zeros = models.PositiveIntegerField(help_text="Counts in which no mite was found.")
    mites = models.PositiveBigIntegerField()
    bees = models.PositiveBigIntegerField(null=True)
    board_days = models.FloatField(null=True)
    yards_effective = models.FloatField()
    rate = models.FloatField()
    low = models.FloatField()
    high = models.FloatField()
    exposure = models.FloatField()
    squared_cv = models.FloatField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["month", "kind", "region", "piece"], name="reports_areamonth_once"
            ),
            models.CheckConstraint(condition=Q(month__day=1), name="reports_areamonth_first_day"),
            models.CheckConstraint(
                condition=Q(low__lte=F("rate"), rate__lte=F("high"), zeros__lte=F("samples")),
                name="reports_areamonth_rate_has_a_range",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.region} {self.piece} {self.month} {self.kind}"
