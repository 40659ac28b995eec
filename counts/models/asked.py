"""Counts that a club asks for together, and those that a keeper said would not be made."""

import datetime as dt
from typing import Self

from django.contrib.postgres.constraints import ExclusionConstraint
from django.contrib.postgres.fields import DateRangeField, RangeOperators
from django.db import models
from django.db.models import F, Q, Value

from apiaries.history import keeps_history
from apiaries.models import Club, Person, Yard
from counts.call_rules import WEEK_DAYS_MAX


class DaysOf(models.Func):
    """The days from one column to another, both of them included."""

    function = "DATERANGE"
    output_field = DateRangeField()

    def __init__(self, first: str, last: str) -> None:
        super().__init__(F(first), F(last), Value("[]"))


class DaysAfter(models.Func):
    """The day so many days after that of a column; immutable, so that a constraint may use it."""

    template = "(%(expressions)s + %(days)s)"
    output_field = models.DateField()

    def __init__(self, column: str, *, days: int) -> None:
        super().__init__(F(column), days=days)


class CountWeekQuerySet(models.QuerySet["CountWeek"]):
    def visible_to(self, person: Person) -> Self:
        """Count weeks of the club the person belongs to."""
        membership = person.membership
        return self.filter(club=membership.club_id) if membership else self.none()

    def standing(self) -> Self:
        """Those that were not cancelled."""
        return self.filter(cancelled_at=None)

    def running(self, on: dt.date) -> Self:
        """Standing ones whose window that day is in."""
        return self.standing().filter(first_on__lte=on, last_on__gte=on)


@keeps_history
class CountWeek(models.Model):
    """A window of days in which a club counts together: every member who keeps a yard with colonies is asked."""

    club = models.ForeignKey(Club, on_delete=models.PROTECT, related_name="count_weeks")
    first_on = models.DateField()
    last_on = models.DateField()
    set_at = models.DateTimeField()
    set_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="count_weeks_set")
    cancelled_at = models.DateTimeField(null=True, blank=True)
    cancelled_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="count_weeks_cancelled"
    )
    cancelled_why = models.CharField(max_length=200, blank=True)

    objects = CountWeekQuerySet.as_manager()

    class Meta:
        ordering = ["-first_on", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last_on__gte=F("first_on"))
                & Q(last_on__lt=DaysAfter("first_on", days=WEEK_DAYS_MAX)),
                name="counts_countweek_days_in_order",
            ),
            models.CheckConstraint(
                condition=Q(cancelled_at=None, cancelled_by=None, cancelled_why="")
                | Q(cancelled_at__isnull=False, cancelled_by__isnull=False) & ~Q(cancelled_why=""),
                name="counts_countweek_cancelled_whole",
            ),
            ExclusionConstraint(
                name="counts_countweek_one_at_a_time",
                expressions=[
                    ("club", RangeOperators.EQUAL),
                    (DaysOf("first_on", "last_on"), RangeOperators.OVERLAPS),
                ],
                condition=Q(cancelled_at=None),
            ),
        ]

    def __str__(self) -> str:
        return f"count week of {self.club} from {self.first_on} to {self.last_on}"


@keeps_history
class CountLeftOut(models.Model):
    """No count this time, for a reason: what was asked for, in which yard, and who said why there will be none."""

    yard = models.ForeignKey(Yard, on_delete=models.PROTECT, related_name="counts_left_out")
    subject = models.CharField(max_length=60, help_text="What was asked for; see counts.call_rules.")
    why = models.CharField(max_length=200)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="counts_left_out")

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["yard", "subject"], name="counts_countleftout_once"),
            models.CheckConstraint(condition=~Q(subject="") & ~Q(why=""), name="counts_countleftout_whole"),
        ]

    def __str__(self) -> str:
        return f"no count in {self.yard}: {self.why}"
