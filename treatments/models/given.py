"""Treatments as they were given, and the recount each of them owes."""

import datetime as dt
import uuid

from django.contrib.postgres.constraints import ExclusionConstraint
from django.contrib.postgres.fields import DateRangeField, RangeOperators
from django.db import models
from django.db.models import F, Q

from apiaries.history import keeps_history
from apiaries.models import Colony, Person, Yard
from apiaries.models.one_of import one_of
from treatments.dose import unit_words
from treatments.ingredients import Ingredient
from treatments.models.ways import Application
from treatments.recount_rules import Window
from treatments.status import RoundDates, TreatmentStatus, days_after, finished_on, treatment_status


class TreatmentQuerySet(models.QuerySet["Treatment"]):
    def visible_to(self, person: Person) -> "TreatmentQuerySet":
        """Treatments of yards the person may see."""
        return self.filter(one_of("yard_id", Yard.objects.visible_to(person).values("pk")))

    def recordable_by(self, person: Person) -> "TreatmentQuerySet":
        """Treatments of yards in which the person may log."""
        return self.filter(one_of("yard_id", Yard.objects.recordable_by(person).values("pk")))

    def standing(self) -> "TreatmentQuerySet":
        """Those that were not cancelled."""
        return self.filter(cancelled_at=None)


@keeps_history
class Treatment(models.Model):
    """One planned or finished set of rounds in one yard: one way of treating, some or all of its colonies."""

    yard = models.ForeignKey(Yard, on_delete=models.PROTECT, related_name="treatments")
    application = models.ForeignKey(Application, on_delete=models.PROTECT, related_name="treatments")
    product = models.CharField(max_length=120, blank=True, help_text="As the pack says; typed by the keeper.")
    batch = models.CharField(max_length=60, blank=True)
    registration = models.CharField(max_length=60, blank=True, help_text="The pack's registration number.")
    supplier = models.CharField(max_length=200, blank=True)
    supplier_address = models.CharField(max_length=300, blank=True)
    proof = models.CharField(
        max_length=200, blank=True, help_text="Which invoice or receipt, and where it is."
    )
    vet = models.CharField(max_length=200, blank=True, help_text="Who prescribed it, if anybody did.")
    given_by = models.CharField(max_length=120, blank=True, help_text="If not the one who recorded it.")
    withdrawal_days = models.PositiveSmallIntegerField(null=True, blank=True)
    note = models.CharField(max_length=500, blank=True)
    entry_key = models.UUIDField(unique=True, default=uuid.uuid4)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="treatments_recorded")
    cancelled_at = models.DateTimeField(null=True, blank=True)
    cancelled_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="treatments_cancelled"
    )
    cancelled_why = models.CharField(max_length=200, blank=True)

    objects = TreatmentQuerySet.as_manager()

    class Meta:
        ordering = ["-recorded_at", "-pk"]
        indexes = [models.Index(fields=["yard", "-recorded_at"], name="treatments_treatment_yard")]
        constraints = [
            models.CheckConstraint(
                condition=Q(cancelled_at=None, cancelled_by=None, cancelled_why="")
                | Q(cancelled_at__isnull=False, cancelled_by__isnull=False) & ~Q(cancelled_why=""),
                name="treatments_treatment_cancelled_whole",
            )
        ]

    def __str__(self) -> str:
        return f"{self.application} in {self.yard}"

    def round_dates(self) -> list[RoundDates]:
        """Its rounds in order, as pure values. Uses prefetched rounds where there are any."""
        return [
            RoundDates(
                planned_on=round_.planned_on,
                given_on=round_.given_on,
                out_on=round_.out_on,
                stays_in_days=self.application.stays_in_days,
                label_says=self.application.label_says_how_long,
                out_by=round_.out_by,
            )
            for round_ in sorted(self.rounds.all(), key=lambda round_: round_.number)
        ]

    def status(self, on: dt.date) -> TreatmentStatus:
        """Planned, in progress, finished or cancelled, from its dates."""
        return treatment_status(self.round_dates(), self.cancelled_at is not None, on)

    def finished_on(self) -> dt.date | None:
        """The last day of the treatment, planned or real; None without rounds."""
        return finished_on(self.round_dates())

    def clear_on(self) -> dt.date | None:
        """The clear date: the end of the withdrawal period. None while the keeper has not entered the label's days."""
        last = self.finished_on()
        if last is None or self.withdrawal_days is None:
            return None
        return days_after(last, self.withdrawal_days)


@keeps_history
class Round(models.Model):
    """One going-through of the yard."""

    treatment = models.ForeignKey(Treatment, on_delete=models.PROTECT, related_name="rounds")
    number = models.PositiveSmallIntegerField()
    planned_on = models.DateField()
    given_on = models.DateField(null=True, blank=True)
    out_on = models.DateField(null=True, blank=True, help_text="When what stays in the hive was taken out.")
    out_by = models.DateField(
        null=True, blank=True, help_text="When it is to be taken out by the keeper's label."
    )

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["treatment", "number"], name="treatments_round_number_once"),
            models.CheckConstraint(
                condition=Q(out_on=None) | Q(given_on__isnull=False, out_on__gte=F("given_on")),
                name="treatments_round_out_after_in",
            ),
            models.CheckConstraint(
                condition=Q(out_by=None) | Q(given_on__isnull=False, out_by__gte=F("given_on")),
                name="treatments_round_out_by_after_in",
            ),
        ]

    def __str__(self) -> str:
        return f"round {self.number} of {self.treatment}"


@keeps_history
class Dose(models.Model):
    """What one colony got in one round."""

    round = models.ForeignKey(Round, on_delete=models.PROTECT, related_name="doses")
    colony = models.ForeignKey(Colony, on_delete=models.PROTECT, related_name="doses")
    amount = models.DecimalField(max_digits=8, decimal_places=3)
    unit = models.CharField(max_length=24)
    why_above = models.CharField(
        max_length=200, blank=True, help_text="The keeper's reason for more than the published limit."
    )
    # The next two repeat facts of the treatment so that PostgreSQL can refuse the same ingredient twice at once.
    ingredient = models.CharField(max_length=32)
    in_hive = DateRangeField(help_text="From the day it was given to the day after it was taken out.")
    voided_at = models.DateTimeField(null=True, blank=True)
    voided_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="doses_voided"
    )
    voided_why = models.CharField(max_length=200, blank=True)

    class Meta:
        indexes = [models.Index(fields=["colony"], name="treatments_dose_colony")]
        constraints = [
            models.UniqueConstraint(
                fields=["round", "colony"], condition=Q(voided_at=None), name="treatments_dose_once_a_round"
            ),
            models.CheckConstraint(condition=Q(amount__gt=0), name="treatments_dose_some"),
            models.CheckConstraint(
                condition=Q(ingredient__in=[ingredient.value for ingredient in Ingredient]),
                name="treatments_dose_ingredient_known",
            ),
            models.CheckConstraint(
                condition=Q(voided_at=None, voided_by=None, voided_why="")
                | Q(voided_at__isnull=False, voided_by__isnull=False) & ~Q(voided_why=""),
                name="treatments_dose_voided_whole",
            ),
            ExclusionConstraint(
                name="treatments_dose_not_twice_at_once",
                expressions=[
                    ("colony", RangeOperators.EQUAL),
                    ("ingredient", RangeOperators.EQUAL),
                    ("in_hive", RangeOperators.OVERLAPS),
                ],
                condition=Q(voided_at=None),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.amount} {self.unit} to {self.colony}"

    @property
    def unit_words(self) -> str:
        """Its unit in the reader's language."""
        return unit_words(self.unit)


class RecountQuerySet(models.QuerySet["Recount"]):
    def visible_to(self, person: Person) -> "RecountQuerySet":
        """Recounts of yards the person may see."""
        return self.filter(one_of("treatment__yard_id", Yard.objects.visible_to(person).values("pk")))

    def recordable_by(self, person: Person) -> "RecountQuerySet":
        """Recounts of yards in which the person may log."""
        return self.filter(one_of("treatment__yard_id", Yard.objects.recordable_by(person).values("pk")))

    def open(self) -> "RecountQuerySet":
        """Those of standing treatments that nobody skipped; whether one is done, its counts say."""
        return self.filter(treatment__cancelled_at=None, skipped_at=None)


@keeps_history
class Recount(models.Model):
    """The after-count that a treatment owes. Its dates are kept so that what is due can be looked up by date;
    done or not is worked out from the counts."""

    treatment = models.OneToOneField(Treatment, on_delete=models.PROTECT, related_name="recount")
    earliest_on = models.DateField()
    ideal_on = models.DateField()
    latest_on = models.DateField()
    kind = models.CharField(max_length=8)
    reason = models.CharField(max_length=300)
    source = models.CharField(max_length=500)
    skipped_at = models.DateTimeField(null=True, blank=True)
    skipped_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="recounts_skipped"
    )
    skipped_why = models.CharField(max_length=200, blank=True)

    objects = RecountQuerySet.as_manager()

    class Meta:
        ordering = ["ideal_on", "pk"]
        indexes = [
            # For the planner of reminders: what falls due on a day.
            models.Index(fields=["ideal_on"], condition=Q(skipped_at=None), name="treatments_recount_due")
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(earliest_on__lte=F("ideal_on")) & Q(ideal_on__lte=F("latest_on")),
                name="treatments_recount_dates_in_order",
            ),
            models.CheckConstraint(
                condition=Q(skipped_at=None, skipped_by=None, skipped_why="")
                | Q(skipped_at__isnull=False, skipped_by__isnull=False) & ~Q(skipped_why=""),
                name="treatments_recount_skipped_whole",
            ),
        ]

    def __str__(self) -> str:
        return f"recount after {self.treatment}"

    @property
    def window(self) -> Window:
        """Earliest, ideal and latest day."""
        return Window(self.earliest_on, self.ideal_on, self.latest_on)
