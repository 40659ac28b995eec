"""What a visit found and asked for: findings of single colonies, suspicions, samples for a laboratory, orders."""

from django.db import models
from django.db.models import Q

from apiaries.history import keeps_history
from apiaries.models.people import Person
from apiaries.models.places import Colony
from apiaries.models.visits import Visit
from apiaries.visit_words import ASPECTS, code_words


@keeps_history
class VisitFinding(models.Model):
    """What was seen in one colony; an empty code was not looked at."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="findings")
    colony = models.ForeignKey(Colony, on_delete=models.PROTECT, related_name="findings")
    strength = models.CharField(max_length=12, blank=True)
    adult_bees = models.CharField(max_length=12, blank=True)
    brood_look = models.CharField(max_length=12, blank=True)
    comb = models.CharField(max_length=12, blank=True)
    stores = models.CharField(max_length=12, blank=True)
    debris = models.CharField(max_length=12, blank=True)
    equipment = models.CharField(max_length=12, blank=True)
    remark = models.CharField(max_length=500, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["visit", "colony"], name="apiaries_visitfinding_once"),
            *(
                models.CheckConstraint(
                    condition=Q(**{f"{aspect.name}__in": ["", *aspect.codes]}),
                    name=f"apiaries_finding_{aspect.name}",
                )
                for aspect in ASPECTS
            ),
        ]

    def __str__(self) -> str:
        return f"{self.colony} at {self.visit}"

    @property
    def words(self) -> list[tuple[str, str, bool]]:
        """(aspect, what was seen, whether it is out of the ordinary) of all that was looked at."""
        seen = [(aspect, getattr(self, aspect.name)) for aspect in ASPECTS]
        return [
            (aspect.heading_words, code_words(aspect.name, code), code not in aspect.usual)
            for aspect, code in seen
            if code
        ]


@keeps_history
class VisitSuspicion(models.Model):
    """A disease or pest that the inspector suspects. Never a diagnosis: the authority and its laboratory decide."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="suspicions")
    colony = models.ForeignKey(
        Colony, null=True, blank=True, on_delete=models.PROTECT, related_name="suspicions"
    )
    disease = models.CharField(max_length=40, help_text="As in the table of notifiable diseases.")
    duty = models.CharField(max_length=12, help_text="What the country's list said on that day.")
    seen = models.CharField(max_length=500, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["visit", "colony", "disease"],
                nulls_distinct=False,
                name="apiaries_visitsuspicion_once",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.disease} suspected at {self.visit}"


@keeps_history
class LabSample(models.Model):
    """A sample taken for a laboratory, and what it answered when."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="lab_samples")
    number = models.CharField(max_length=60)
    what = models.CharField(max_length=200)
    sent_to = models.CharField(max_length=200, blank=True)
    results_to = models.CharField(max_length=200, blank=True, help_text="Who is told the result.")
    result_on = models.DateField(null=True, blank=True)
    result = models.CharField(max_length=500, blank=True)
    result_at = models.DateTimeField(null=True, blank=True)
    result_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="lab_results_noted"
    )

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["visit", "number"], name="apiaries_labsample_number_once"),
            models.CheckConstraint(
                condition=Q(result_on=None, result="", result_at=None, result_by=None)
                | Q(result_on__isnull=False, result_at__isnull=False, result_by__isnull=False)
                & ~Q(result=""),
                name="apiaries_labsample_result_whole",
            ),
        ]

    def __str__(self) -> str:
        return f"sample {self.number} of {self.visit}"


@keeps_history
class VisitOrder(models.Model):
    """Something the keeper has to do, by a day if one was set."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="orders")
    what = models.CharField(max_length=500)
    due_on = models.DateField(null=True, blank=True)
    done_on = models.DateField(null=True, blank=True)
    done_note = models.CharField(max_length=500, blank=True)
    done_at = models.DateTimeField(null=True, blank=True)
    done_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="visit_orders_closed"
    )

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(done_on=None, done_at=None, done_by=None, done_note="")
                | Q(done_on__isnull=False, done_at__isnull=False, done_by__isnull=False),
                name="apiaries_visitorder_done_whole",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.what} ({self.visit})"
