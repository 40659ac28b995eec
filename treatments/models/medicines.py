"""Medicines a keeper bought and disposed of: with the doses given, what a medicine record is made of."""

import uuid
from typing import Self

from django.db import models
from django.db.models import F, Q

from apiaries.history import keeps_history
from apiaries.models import Person, Yard
from treatments.ingredients import Ingredient, is_biotechnical

MEDICINES = [one.value for one in Ingredient if not is_biotechnical(one)]
LONGEST_WITHDRAWAL = 365


class KeptQuerySet(models.QuerySet):
    """Entries that belong to a keeper, not to a yard."""

    def visible_to(self, person: Person) -> Self:
        """Of the keepers whose entries the person may see."""
        return self.filter(keeper__in=keepers_seen_by(person))

    def recordable_by(self, person: Person) -> Self:
        """Of the keepers for whom the person may log."""
        return self.filter(keeper__in=keepers_logged_by(person))

    def editable_by(self, person: Person) -> Self:
        """Those the person may correct or void: their own, and what they logged themselves for a keeper they help."""
        return self.recordable_by(person).filter(Q(keeper=person) | Q(recorded_by=person))

    def standing(self) -> Self:
        """Neither voided nor replaced by a correction."""
        return self.filter(voided_at=None)


def keepers_seen_by(person: Person) -> "models.QuerySet[Person]":
    """Oneself, and those of whose yards one sees everything: as helper, or as the region's inspector."""
    seen = Yard.objects.exact_place_visible_to(person).values("keeper")
    return Person.objects.filter(Q(pk=person.pk) | Q(pk__in=seen))


def keepers_logged_by(person: Person) -> "models.QuerySet[Person]":
    """Keepers of yards in which the person may log."""
    return Person.objects.filter(pk__in=Yard.objects.recordable_by(person).values("keeper"))


class _Kept(models.Model):
    """What a purchase and a disposal share. Nothing is erased: it is voided or corrected, with who, when and why."""

    keeper = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="%(class)ss")
    product = models.CharField(max_length=120)
    batch = models.CharField(max_length=60, blank=True)
    quantity = models.DecimalField(max_digits=10, decimal_places=3)
    unit = models.CharField(max_length=24)
    note = models.CharField(max_length=500, blank=True)
    entry_key = models.UUIDField(unique=True, default=uuid.uuid4)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="%(class)ss_recorded")
    voided_at = models.DateTimeField(null=True, blank=True)
    voided_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="%(class)ss_voided"
    )
    voided_why = models.CharField(max_length=200, blank=True)
    corrects = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="corrected_by"
    )

    objects = KeptQuerySet.as_manager()

    class Meta:
        abstract = True
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gt=0), name="%(app_label)s_%(class)s_some"),
            models.CheckConstraint(condition=~Q(product=""), name="%(app_label)s_%(class)s_product"),
            models.CheckConstraint(condition=~Q(unit=""), name="%(app_label)s_%(class)s_unit"),
            models.CheckConstraint(
                condition=~Q(corrects=F("id")), name="%(app_label)s_%(class)s_corrects_another"
            ),
            models.CheckConstraint(
                condition=Q(voided_at=None, voided_by=None, voided_why="")
                | Q(voided_at__isnull=False, voided_by__isnull=False) & ~Q(voided_why=""),
                name="%(app_label)s_%(class)s_voided_whole",
            ),
        ]


@keeps_history
class MedicinePurchase(_Kept):
    """A medicine that was bought."""

    bought_on = models.DateField()
    ingredient = models.CharField(max_length=32, blank=True)
    supplier = models.CharField(max_length=200, blank=True)
    supplier_address = models.CharField(max_length=300, blank=True)
    proof = models.CharField(max_length=200, blank=True)
    withdrawal_days = models.PositiveSmallIntegerField(null=True, blank=True)
    expires_on = models.DateField(null=True, blank=True)

    class Meta(_Kept.Meta):
        ordering = ["bought_on", "pk"]
        indexes = [models.Index(fields=["keeper", "bought_on"], name="treatments_purchase_keeper")]
        constraints = [
            *_Kept.Meta.constraints,
            models.CheckConstraint(
                condition=Q(ingredient__in=["", *MEDICINES]), name="treatments_purchase_ingredient_known"
            ),
            models.CheckConstraint(
                condition=Q(withdrawal_days=None) | Q(withdrawal_days__lte=LONGEST_WITHDRAWAL),
                name="treatments_purchase_withdrawal_plausible",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.product} bought on {self.bought_on}"


@keeps_history
class MedicineDisposal(_Kept):
    """A medicine that was disposed of, unused or out of date."""

    disposed_on = models.DateField()
    how = models.CharField(max_length=200, blank=True)
    place = models.CharField(max_length=200, blank=True)

    class Meta(_Kept.Meta):
        ordering = ["disposed_on", "pk"]
        indexes = [models.Index(fields=["keeper", "disposed_on"], name="treatments_disposal_keeper")]

    def __str__(self) -> str:
        return f"{self.product} disposed of on {self.disposed_on}"
