"""Sheets that were brought in: the batch and what became of it, its rows while they are looked at, its counts."""

from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from apiaries.history import keeps_history
from apiaries.models import Brood, Club, Colony, Person, Yard
from counts.models.sampled import BEES_BY_WORDS, METHOD_WORDS, EstimateBasis, MiteSample
from counts.samples import BeesBy, Method


class ImportState(models.TextChoices):
    """How far a batch is."""

    READING = "reading", _("being read")
    LOOK = "look", _("ready for a look")
    BRINGING = "bringing", _("being brought in")
    IN = "in", _("brought in")
    UNDONE = "undone", _("undone")
    REFUSED = "refused", _("put aside")
    FAILED = "failed", _("not read")


class RowStatus(models.TextChoices):
    """What becomes of a row of the sheet."""

    READY = "ready", _("ready")
    LOOK = "look", _("needs a look")
    ERROR = "error", _("error")
    HERE = "here", _("already here")


class ImportBatchQuerySet(models.QuerySet["ImportBatch"]):
    def visible_to(self, person: Person) -> "ImportBatchQuerySet":
        """Sheets that the person brought: they may hold more than what others may see."""
        return self.filter(by=person)


@keeps_history
class ImportBatch(models.Model):
    """One sheet: who brought it, what was said about it, what became of its rows. Never deleted."""

    club = models.ForeignKey(Club, on_delete=models.PROTECT, related_name="imports")
    keeper = models.ForeignKey(
        Person, null=True, on_delete=models.PROTECT, related_name="+", help_text="Only this keeper's yards."
    )
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="imports")
    at = models.DateTimeField()
    file_name = models.CharField(max_length=200)
    size = models.PositiveIntegerField()
    sha256 = models.CharField(max_length=64)
    choices = models.JSONField(
        default=dict, help_text="What was said about the sheet; see counts.imports.said."
    )
    taken_for = models.JSONField(
        default=dict, help_text="What the file was read as: sheet, encoding, headings."
    )
    state = models.CharField(max_length=8, choices=ImportState.choices, default=ImportState.READING)
    refusal = models.JSONField(null=True, help_text="Why it could not be read: code and values.")
    ready = models.PositiveIntegerField(default=0)
    look = models.PositiveIntegerField(default=0)
    errors = models.PositiveIntegerField(default=0)
    here = models.PositiveIntegerField(default=0)
    world = models.CharField(
        max_length=64, blank=True, help_text="Yards and colonies as they were when the rows were understood."
    )
    brought = models.PositiveIntegerField(default=0)
    brought_at = models.DateTimeField(null=True)
    undone_at = models.DateTimeField(null=True)
    undone_by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    undone_why = models.CharField(max_length=200, blank=True)

    objects = ImportBatchQuerySet.as_manager()

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [
            models.Index(fields=["by", "-at"], name="counts_import_by_newest"),
            models.Index(
                fields=["at"], condition=Q(state__in=["reading", "bringing"]), name="counts_import_to_do"
            ),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(state__in=ImportState.values), name="counts_importbatch_state_known"
            ),
            models.CheckConstraint(
                condition=Q(state__in=["in", "undone"], brought_at__isnull=False)
                | Q(~Q(state__in=["in", "undone"]), brought_at=None, brought=0),
                name="counts_importbatch_brought_whole",
            ),
            models.CheckConstraint(
                condition=Q(~Q(state="undone"), undone_at=None, undone_by=None, undone_why="")
                | Q(state="undone", undone_at__isnull=False, undone_by__isnull=False) & ~Q(undone_why=""),
                name="counts_importbatch_undone_whole",
            ),
        ]

    def __str__(self) -> str:
        return self.file_name

    @property
    def rows(self) -> int:
        """Rows that say something, whatever becomes of them."""
        return self.ready + self.look + self.errors + self.here


class ImportWork(models.Model):
    """The file itself and how far its reading is: gone once it is no longer needed. No history: it is no fact."""

    batch = models.OneToOneField(ImportBatch, primary_key=True, on_delete=models.PROTECT, related_name="work")
    data = models.BinaryField()
    rows_total = models.PositiveIntegerField(default=0)
    rows_done = models.PositiveIntegerField(default=0)
    attempts = models.PositiveSmallIntegerField(default=0)
    held_by = models.UUIDField(null=True, help_text="The attempt that works on it.")
    seen_at = models.DateTimeField(null=True, help_text="When that attempt last said that it is alive.")

    def __str__(self) -> str:
        return f"work on {self.batch}"


class ImportRow(models.Model):
    """One row of a sheet while it is looked at: its cells as they stand, and the count they make, if they make one."""

    batch = models.ForeignKey(ImportBatch, on_delete=models.PROTECT, related_name="staged")
    number = models.PositiveIntegerField(help_text="The line in the file.")
    status = models.CharField(max_length=5, choices=RowStatus.choices)
    cells = ArrayField(models.TextField(null=True))
    reasons = models.JSONField(default=list)
    kinds = ArrayField(models.CharField(max_length=32), default=list)
    open = ArrayField(
        models.CharField(max_length=32), default=list, help_text="Kinds nobody agreed to as yet."
    )
    colony = models.ForeignKey(Colony, null=True, on_delete=models.PROTECT, related_name="+", db_index=False)
    yard = models.ForeignKey(Yard, null=True, on_delete=models.PROTECT, related_name="+", db_index=False)
    method = models.CharField(
        max_length=16, blank=True, choices=[(method.value, METHOD_WORDS[method]) for method in Method]
    )
    sampled_on = models.DateField(null=True)
    mites = models.PositiveIntegerField(null=True)
    bees = models.PositiveIntegerField(null=True)
    bees_by = models.CharField(
        max_length=8, blank=True, choices=[(by.value, BEES_BY_WORDS[by]) for by in BeesBy]
    )
    board_days = models.DecimalField(max_digits=4, decimal_places=1, null=True)
    cells_counted = models.PositiveIntegerField(null=True)
    cells_total = models.PositiveIntegerField(null=True)
    treatment_in_hive = models.BooleanField(default=False)
    brood = models.CharField(max_length=8, choices=Brood.choices, default=Brood.UNKNOWN)
    note = models.CharField(max_length=500, blank=True)
    rate = models.FloatField(null=True)
    low = models.FloatField(null=True)
    high = models.FloatField(null=True)
    exposure = models.FloatField(null=True)
    squared_cv = models.FloatField(null=True)
    refusal = models.CharField(max_length=40, blank=True)
    basis = models.ForeignKey(
        EstimateBasis, null=True, on_delete=models.PROTECT, related_name="+", db_index=False
    )
    entry_key = models.UUIDField(null=True, help_text="Of the count it makes; none where it makes none.")

    class Meta:
        ordering = ["number"]
        constraints = [models.UniqueConstraint(fields=["batch", "number"], name="counts_importrow_once")]
        indexes = [models.Index(fields=["batch", "status", "number"], name="counts_importrow_status")]

    def __str__(self) -> str:
        return f"row {self.number} of {self.batch}"


class ImportedCount(models.Model):
    """Which batch brought a count in."""

    batch = models.ForeignKey(ImportBatch, on_delete=models.PROTECT, related_name="counts")
    sample = models.OneToOneField(MiteSample, on_delete=models.PROTECT, related_name="imported")

    def __str__(self) -> str:
        return f"{self.sample} from {self.batch}"


@keeps_history
class KnownHeading(models.Model):
    """What a heading means in the sheets of a club, as somebody there said."""

    club = models.ForeignKey(Club, on_delete=models.PROTECT, related_name="known_headings")
    heading = models.CharField(
        max_length=200, help_text="As it is compared; see counts.imports.columns.plain."
    )
    column = models.CharField(
        max_length=16, blank=True, help_text="What it holds; empty: nothing that counts."
    )
    bees = models.PositiveIntegerField(null=True, help_text="Bees that the mites were found in.")
    said_at = models.DateTimeField()
    said_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["club", "heading"], name="counts_knownheading_once"),
        ]

    def __str__(self) -> str:
        return self.heading
