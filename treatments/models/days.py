"""The treatment day: a keeper's heaters and batteries, the sheet of a round, and what was ticked while working."""

import uuid
from typing import Self

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from apiaries.history import keeps_history
from apiaries.models import Colony, Person
from treatments.dose import unit_words
from treatments.models.given import Round

MINUTES_MAX = 24 * 60


class DeviceQuerySet(models.QuerySet["Device"]):
    def of(self, person: Person) -> Self:
        """The person's own, still in use, by name."""
        return self.filter(keeper=person, put_away_at=None).order_by("name", "pk")


def _minutes(**more: object) -> models.DecimalField:
    return models.DecimalField(max_digits=6, decimal_places=2, **more)


@keeps_history
class Device(models.Model):
    """Heaters of one kind with their batteries. Times are from the keeper's own trial outside a hive, or unknown."""

    keeper = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="devices")
    name = models.CharField(max_length=60, help_text="In the keeper's own words.")
    number = models.PositiveSmallIntegerField(default=1, help_text="How many such heaters there are.")
    grams_per_load = models.DecimalField(max_digits=6, decimal_places=2, null=True, blank=True)
    watts = models.DecimalField(max_digits=7, decimal_places=2, null=True, blank=True)
    amps = models.DecimalField(max_digits=7, decimal_places=2, null=True, blank=True)
    volts = models.DecimalField(max_digits=6, decimal_places=2, null=True, blank=True)
    tried_on = models.DateField(null=True, blank=True, help_text="Day of the timed trial.")
    first_minutes = _minutes(null=True, blank=True, help_text="First load of a cold heater.")
    following_minutes = _minutes(null=True, blank=True)
    cool_minutes = _minutes(null=True, blank=True)
    batteries = models.PositiveSmallIntegerField(default=0)
    battery_ah = models.DecimalField(max_digits=7, decimal_places=2, null=True, blank=True)
    rated_hours = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    usable_share = models.DecimalField(max_digits=4, decimal_places=3, null=True, blank=True)
    peukert = models.DecimalField(max_digits=4, decimal_places=3, null=True, blank=True)
    put_away_at = models.DateTimeField(null=True, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="devices_recorded")

    objects = DeviceQuerySet.as_manager()

    class Meta:
        ordering = ["name", "pk"]
        indexes = [models.Index(fields=["keeper"], name="treatments_device_keeper")]
        constraints = [
            models.CheckConstraint(condition=~Q(name=""), name="treatments_device_named"),
            models.CheckConstraint(
                condition=Q(number__gte=1, number__lte=12, batteries__lte=24),
                name="treatments_device_numbers_plausible",
            ),
            models.CheckConstraint(
                condition=Q(first_minutes=None, following_minutes=None, cool_minutes=None, tried_on=None)
                | Q(
                    tried_on__isnull=False,
                    first_minutes__isnull=False,
                    following_minutes__isnull=False,
                    cool_minutes__isnull=False,
                    first_minutes__gt=0,
                    first_minutes__lte=MINUTES_MAX,
                    following_minutes__gt=0,
                    following_minutes__lte=MINUTES_MAX,
                    cool_minutes__gte=0,
                    cool_minutes__lte=MINUTES_MAX,
                ),
                name="treatments_device_trial_whole",
            ),
            models.CheckConstraint(
                condition=(Q(watts=None) | Q(watts__gt=0))
                & (Q(amps=None) | Q(amps__gt=0))
                & (Q(volts=None) | Q(volts__gt=0))
                & (Q(grams_per_load=None) | Q(grams_per_load__gt=0)),
                name="treatments_device_draw_positive",
            ),
            models.CheckConstraint(
                condition=(Q(battery_ah=None) | Q(battery_ah__gt=0))
                & (Q(rated_hours=None) | Q(rated_hours__gt=0))
                & (Q(usable_share=None) | Q(usable_share__gt=0, usable_share__lte=1))
                & (Q(peukert=None) | Q(peukert__gte=1, peukert__lte=2)),
                name="treatments_device_battery_plausible",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_timed(self) -> bool:
        """Whether its times are known from a trial."""
        return self.tried_on is not None


@keeps_history
class DaySheet(models.Model):
    """How one round is to be worked: when it starts, who helps, with which heaters. The times follow from these."""

    round = models.OneToOneField(Round, on_delete=models.PROTECT, related_name="sheet")
    starts_at = models.TimeField(help_text="On the yard's clock.")
    people = models.PositiveSmallIntegerField(default=1)
    device = models.ForeignKey(Device, null=True, blank=True, on_delete=models.PROTECT, related_name="sheets")
    heaters = models.PositiveSmallIntegerField(default=1)
    wait_minutes = _minutes(help_text="From the end of heating to drawing the heater.")
    sealed_minutes = _minutes(help_text="A hive stays shut for so long after the last vapour.")
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="sheets_recorded")
    began_at = models.DateTimeField(
        null=True, blank=True, help_text="When work really began; empty: nobody said."
    )
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(began_at=None) | Q(ended_at=None) | Q(ended_at__gte=F("began_at")),
                name="treatments_daysheet_ends_after_it_began",
            ),
            models.CheckConstraint(
                condition=Q(people__gte=1, people__lte=2, heaters__gte=1, heaters__lte=12),
                name="treatments_daysheet_numbers_plausible",
            ),
            models.CheckConstraint(
                condition=Q(wait_minutes__gte=0, wait_minutes__lte=MINUTES_MAX)
                & Q(sealed_minutes__gte=0, sealed_minutes__lte=MINUTES_MAX),
                name="treatments_daysheet_minutes_plausible",
            ),
        ]

    def __str__(self) -> str:
        return f"sheet of {self.round}"


@keeps_history
class SheetHive(models.Model):
    """One hive of the sheet, in the order walked: what it is to get, in how many loads."""

    sheet = models.ForeignKey(DaySheet, on_delete=models.CASCADE, related_name="hives")
    colony = models.ForeignKey(Colony, on_delete=models.PROTECT, related_name="+")
    position = models.PositiveSmallIntegerField()
    loads = models.PositiveSmallIntegerField(default=1)
    amount = models.DecimalField(max_digits=8, decimal_places=3)
    unit = models.CharField(max_length=24)

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(fields=["sheet", "colony"], name="treatments_sheethive_once"),
            models.UniqueConstraint(fields=["sheet", "position"], name="treatments_sheethive_place"),
            models.CheckConstraint(
                condition=Q(amount__gt=0, loads__gte=1, loads__lte=20), name="treatments_sheethive_some"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.colony} on {self.sheet}"

    @property
    def unit_words(self) -> str:
        """Its unit in the reader's language."""
        return unit_words(self.unit)


class Step(models.TextChoices):
    """What is ticked at a hive while working."""

    STARTED = "started", _("started")
    DRAWN = "drawn", _("heater out")
    OPENED = "opened", _("opened")
    LEFT_OUT = "left_out", _("left out")


class SheetMark(models.Model):
    """A tick made in the yard, at the time on the phone. The same key never makes two; undone ones stay."""

    hive = models.ForeignKey(SheetHive, on_delete=models.PROTECT, related_name="marks")
    step = models.CharField(max_length=12, choices=Step.choices)
    at = models.DateTimeField(help_text="When it was ticked, on the phone's clock.")
    remark = models.CharField(max_length=200, blank=True)
    entry_key = models.UUIDField(unique=True, default=uuid.uuid4)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    undone_at = models.DateTimeField(null=True, blank=True)
    undone_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["hive", "step"], condition=Q(undone_at=None), name="treatments_sheetmark_once"
            ),
            models.CheckConstraint(condition=Q(step__in=Step.values), name="treatments_sheetmark_step_known"),
            models.CheckConstraint(
                condition=Q(undone_at=None, undone_by=None)
                | Q(undone_at__isnull=False, undone_by__isnull=False) & Q(undone_at__gte=F("recorded_at")),
                name="treatments_sheetmark_undone_whole",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.step} at {self.hive}"
