"""Ways of treating: reference data, loaded from fixtures/."""

from django.db import models
from django.db.models import F, Q

from apiaries.language import say
from treatments.recount_rules import RecountRule


class Application(models.Model):
    """An ingredient, a way of giving it and whose label it follows: reference data, loaded from fixtures/.

    `row` is the line of the file it came from, whole: every limit with its source and date. The label in the
    keeper's hand decides; nothing here is a substitute for it.
    """

    key = models.CharField(max_length=80, unique=True)
    english_name = models.CharField(max_length=120, db_column="name")
    ingredient = models.CharField(max_length=32)
    way = models.CharField(max_length=40)
    jurisdiction = models.CharField(max_length=8)
    is_synthetic = models.BooleanField()
    dose_amount = models.DecimalField(max_digits=8, decimal_places=3, null=True)
    dose_unit = models.CharField(max_length=24, blank=True)
    rounds_default = models.PositiveSmallIntegerField(default=1)
    days_between_rounds = models.PositiveSmallIntegerField(null=True)
    stays_in_days = models.PositiveSmallIntegerField(default=0)
    withdrawal_days = models.PositiveSmallIntegerField(null=True, help_text="Empty: the label says.")
    recount_kind = models.CharField(max_length=8)
    recount_earliest_days = models.PositiveSmallIntegerField()
    recount_ideal_days = models.PositiveSmallIntegerField()
    recount_latest_days = models.PositiveSmallIntegerField()
    recount_reason = models.CharField(max_length=300)
    valid_from = models.DateField(null=True)
    valid_to = models.DateField(null=True)
    row = models.JSONField()

    class Meta:
        ordering = ["english_name", "jurisdiction"]
        constraints = [
            models.CheckConstraint(
                condition=Q(recount_earliest_days__lte=F("recount_ideal_days"))
                & Q(recount_ideal_days__lte=F("recount_latest_days")),
                name="treatments_application_recount_in_order",
            )
        ]

    def __str__(self) -> str:
        return self.english_name

    @property
    def name(self) -> str:
        """What it is called in the language of whoever reads: to show, never to keep."""
        return say(self.english_name)

    @property
    def label_says_how_long(self) -> bool:
        """Whether a dose stays in the hive for days that are not published here: the keeper says when it came out."""
        return self.row.get("stays_in_days", "") == ""

    @property
    def stays(self) -> bool:
        """Whether something of a dose stays in the hive until it is taken out."""
        return self.label_says_how_long or self.stays_in_days > 0

    @property
    def recount_rule(self) -> RecountRule:
        """When to recount after it, as the pure rule."""
        return RecountRule(
            earliest_days=self.recount_earliest_days,
            ideal_days=self.recount_ideal_days,
            latest_days=self.recount_latest_days,
            kind=self.recount_kind,
            reason=self.recount_reason,
            source=self.row.get("recount_source", ""),
            mark=self.row.get("recount_mark", ""),
        )


def stays_in_hive(way: str = "") -> models.Q:
    """`Application.stays` as a condition; `way` leads to the application, such as `treatment__application__`."""
    by_label = models.Q((f"{way}row__stays_in_days", "")) | models.Q(
        (f"{way}row__stays_in_days__isnull", True)
    )
    return models.Q((f"{way}stays_in_days__gt", 0)) | by_label
