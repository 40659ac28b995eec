"""Mite counts as they were made, and the published action levels they are compared with."""

import uuid

from django.contrib.postgres.indexes import BrinIndex
from django.db import models
from django.db.models import F, Q
from django.utils.functional import cached_property
from django.utils.translation import gettext_lazy as _

from apiaries.history import keeps_history
from apiaries.models import Brood, Colony, Person, Visit, Yard
from apiaries.models.one_of import one_of
from counts.action_levels import Level, level_from_row
from counts.constants import Constants
from counts.samples import BeesBy, BoardSample, JarSample, Kind, Method, kind_of

JAR_METHODS = [method.value for method in Method if kind_of(method) in (Kind.WASH, Kind.ROLL)]

METHOD_WORDS = {
    Method.ALCOHOL_WASH: _("alcohol wash"),
    Method.SOAP_WASH: _("soap wash"),
    Method.SUGAR_ROLL: _("sugar roll"),
    Method.CO2: _("CO2"),
    Method.BOARD: _("board"),
    Method.DRONE_BROOD: _("drone brood"),
}
BEES_BY_WORDS = {
    BeesBy.COUNTED: _("counted"),
    BeesBy.VOLUME: _("by a measure"),
    BeesBy.NOMINAL: _("taken as"),
}


class DayAfterInUtc(models.Func):
    """The day after an instant's date in UTC; immutable, so that a constraint may use it."""

    template = "((%(expressions)s AT TIME ZONE 'UTC')::date + 1)"
    output_field = models.DateField()


class MiteSampleQuerySet(models.QuerySet["MiteSample"]):
    def visible_to(self, person: Person) -> "MiteSampleQuerySet":
        """Counts made in yards the person may see."""
        return self.filter(one_of("yard_id", Yard.objects.visible_to(person).values("pk")))

    def editable_by(self, person: Person) -> "MiteSampleQuerySet":
        """Counts the person may correct or void: those of their own yards, and their own in yards they help in.

        A count made at an inspector's visit is part of its report: only who may correct that visit changes it.
        """
        kept = one_of("yard_id", Yard.objects.editable_by(person).values("pk"))
        own = Q(recorded_by=person) & one_of("yard_id", Yard.objects.recordable_by(person).values("pk"))
        return self.filter(
            Q(visit=None) & (kept | own) | Q(visit__in=Visit.objects.editable_by(person).values("pk"))
        )

    def standing(self) -> "MiteSampleQuerySet":
        """Those that count: neither voided nor replaced by a correction (a corrected one is voided)."""
        return self.filter(voided_at=None)

    def newest_first(self) -> "MiteSampleQuerySet":
        return self.order_by("-sampled_on", "-pk")


class EstimateBasis(models.Model):
    """The method version and the constants that estimates were made with, kept once for all that share them."""

    version = models.CharField(max_length=40)
    constants = models.JSONField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["version", "constants"], name="counts_estimatebasis_once")
        ]

    def __str__(self) -> str:
        return self.version

    @cached_property
    def as_constants(self) -> Constants:
        """The pure constants: the counts of a list share one basis."""
        return Constants.from_stored(self.constants)


def version_after(times_restored: int, *, voided: bool) -> int:
    """The version of a count that was restored so often; each restoration lifted a void."""
    return 2 * times_restored + voided


@keeps_history
class MiteSample(models.Model):
    """One count of mites: so many on so many bees, or on a board over so many days.

    The estimate is stored beside the fact so that lists need not work it out again and an old page does not change
    silently; it is written once, by the action that saves the count.
    """

    colony = models.ForeignKey(Colony, on_delete=models.PROTECT, related_name="samples")
    yard = models.ForeignKey(Yard, on_delete=models.PROTECT, related_name="samples")
    method = models.CharField(
        max_length=16, choices=[(method.value, METHOD_WORDS[method]) for method in Method]
    )
    sampled_on = models.DateField(help_text="The calendar date in the yard.")
    mites = models.PositiveIntegerField()
    bees = models.PositiveIntegerField(null=True, blank=True)
    bees_by = models.CharField(
        max_length=8, blank=True, choices=[(by.value, BEES_BY_WORDS[by]) for by in BeesBy]
    )
    board_days = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    cells_counted = models.PositiveIntegerField(null=True, blank=True)
    cells_total = models.PositiveIntegerField(null=True, blank=True)
    treatment_in_hive = models.BooleanField(default=False)
    brood = models.CharField(max_length=8, choices=Brood.choices, default=Brood.UNKNOWN)
    note = models.CharField(max_length=500, blank=True)
    visit = models.ForeignKey(
        Visit,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="samples",
        help_text="The inspector's visit at which it was made.",
    )

    rate = models.FloatField(null=True, help_text="Mites per bee, or per day for a board.")
    low = models.FloatField(null=True)
    high = models.FloatField(null=True)
    exposure = models.FloatField(
        null=True,
        help_text="Bees times the share a method recovers, or board days times the share counted.",
    )
    squared_cv = models.FloatField(null=True)
    refusal = models.CharField(max_length=40, blank=True)
    basis = models.ForeignKey(EstimateBasis, null=True, on_delete=models.PROTECT, related_name="+")

    entry_key = models.UUIDField(unique=True, default=uuid.uuid4)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="samples_recorded")
    voided_at = models.DateTimeField(null=True, blank=True)
    voided_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="samples_voided"
    )
    voided_why = models.CharField(max_length=200, blank=True)
    corrects = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="corrected_by"
    )

    objects = MiteSampleQuerySet.as_manager()

    class Meta:
        indexes = [
            models.Index(fields=["colony", "-sampled_on"], name="counts_sample_colony_newest"),
            models.Index(fields=["yard", "-sampled_on"], name="counts_sample_yard_newest"),
            BrinIndex(fields=["sampled_on"], name="counts_sample_date"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(method__in=[method.value for method in Method]), name="counts_sample_method_known"
            ),
            models.CheckConstraint(
                condition=~Q(method__in=JAR_METHODS)
                | Q(
                    bees__isnull=False,
                    bees__gte=1,
                    bees_by__in=[by.value for by in BeesBy],
                    board_days=None,
                    cells_counted=None,
                    cells_total=None,
                ),
                name="counts_sample_jar_has_bees",
            ),
            models.CheckConstraint(
                condition=~Q(method__in=JAR_METHODS) | Q(mites__lte=F("bees") * 3),
                name="counts_sample_mites_possible",
            ),
            models.CheckConstraint(
                condition=~Q(method=Method.BOARD.value)
                | Q(board_days__isnull=False, board_days__gt=0, bees=None, bees_by=""),
                name="counts_sample_board_has_days",
            ),
            models.CheckConstraint(
                condition=~Q(method=Method.DRONE_BROOD.value)
                | Q(
                    cells_counted__isnull=False,
                    cells_counted__gte=1,
                    mites__lte=F("cells_counted"),
                    cells_total=None,
                    bees=None,
                    bees_by="",
                    board_days=None,
                ),
                name="counts_sample_drone_brood_has_cells",
            ),
            models.CheckConstraint(
                condition=Q(cells_total=None)
                | Q(cells_counted__isnull=False, cells_counted__gte=1, cells_counted__lte=F("cells_total")),
                name="counts_sample_cells_part_of_board",
            ),
            models.CheckConstraint(
                condition=~Q(method=Method.BOARD.value)
                | Q(cells_counted=None, cells_total=None)
                | Q(cells_counted__isnull=False, cells_total__isnull=False),
                name="counts_sample_cells_pair",
            ),
            models.CheckConstraint(condition=Q(brood__in=Brood.values), name="counts_sample_brood_known"),
            models.CheckConstraint(
                # A yard east of Greenwich may be a day ahead of UTC; no yard is two.
                condition=Q(sampled_on__lte=DayAfterInUtc("recorded_at")),
                name="counts_sample_not_in_the_future",
            ),
            models.CheckConstraint(
                condition=Q(voided_at=None, voided_by=None, voided_why="")
                | Q(voided_at__isnull=False, voided_by__isnull=False) & ~Q(voided_why=""),
                name="counts_sample_voided_whole",
            ),
            models.UniqueConstraint(
                fields=["corrects"], condition=Q(voided_at=None), name="counts_sample_corrects_once"
            ),
            models.CheckConstraint(
                condition=Q(rate=None, low=None, high=None, exposure=None, squared_cv=None)
                | Q(
                    rate__isnull=False,
                    low__isnull=False,
                    high__isnull=False,
                    exposure__isnull=False,
                    exposure__gt=0,
                    squared_cv__isnull=False,
                    basis__isnull=False,
                    rate__gte=0,
                    low__gte=0,
                    high__gte=F("low"),
                ),
                name="counts_sample_estimate_whole",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_method_display()} of {self.sampled_on}: {self.mites}"

    @property
    def kind(self) -> Kind:
        """Which counts it may be compared with: washes, rolls, boards and drone brood are never mixed."""
        return kind_of(Method(self.method))

    @property
    def version(self) -> int:
        """Rises by one with each void and each restoration; what a form carries, to notice what came in between."""
        return version_after(self.restorations.count(), voided=self.voided_at is not None)

    def as_value(self) -> JarSample | BoardSample | None:
        """The pure sample; None for drone brood, which allows no estimate."""
        if self.kind in (Kind.WASH, Kind.ROLL):
            return JarSample(self.mites, self.bees or 0, BeesBy(self.bees_by), Method(self.method))
        if self.kind is Kind.BOARD:
            return BoardSample(self.mites, float(self.board_days or 0), self.share_counted)
        return None

    @property
    def share_counted(self) -> float:
        """The share of a board's cells that were counted; 1 for a whole board."""
        if not self.cells_counted or not self.cells_total:
            return 1.0
        return self.cells_counted / self.cells_total


class ActionLevel(models.Model):
    """A published rate at which its issuer advises acting: reference data, loaded from fixtures/."""

    key = models.CharField(max_length=80, unique=True)
    issuer = models.CharField(max_length=60)
    issuer_name = models.CharField(max_length=160)
    region = models.CharField(max_length=80)
    kind = models.CharField(max_length=16)
    unit = models.CharField(max_length=20)
    row = models.JSONField(help_text="The line of the file it came from, whole, with its source.")

    class Meta:
        ordering = ["issuer", "kind", "key"]
        indexes = [models.Index(fields=["issuer", "kind"], name="counts_actionlevel_issuer")]

    def __str__(self) -> str:
        return self.key

    def as_value(self) -> Level:
        """The pure level."""
        return level_from_row(self.row)
