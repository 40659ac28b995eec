"""An inspector's visits to yards: planned for a day, made, cancelled; a report that stays as it was recorded."""

import datetime as dt

from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from apiaries.history import keeps_history
from apiaries.language import say
from apiaries.models.one_of import one_of
from apiaries.models.people import Club, Person
from apiaries.models.places import Yard
from apiaries.permissions import Permission


class Present(models.TextChoices):
    """Who was there beside the inspector."""

    KEEPER = "keeper", _("the keeper")
    OTHER = "other", _("somebody else")
    NOBODY = "nobody", _("nobody")


class Told(models.TextChoices):
    """Whether notice was given."""

    BEFORE = "before", _("before the day")
    SAME_DAY = "same_day", _("on the day")
    NOT = "not", _("not given")


class VisitState(models.TextChoices):
    """Derived from the facts, never stored."""

    PLANNED = "planned", _("planned")
    MADE = "made", _("made")
    CANCELLED = "cancelled", _("cancelled")
    VOIDED = "voided", _("voided")


MADE_WHOLE = Q(
    visited_on__isnull=False,
    recorded_at__isnull=False,
    recorded_by__isnull=False,
    entry_key__isnull=False,
    year__isnull=False,
    number__isnull=False,
    version__isnull=False,
    colonies_present__isnull=False,
    colonies_to_open__isnull=False,
    colonies_opened__isnull=False,
    present__in=Present.values,
    told__in=Told.values,
    cancelled_at=None,
)
NOT_MADE = Q(
    visited_on=None,
    recorded_at=None,
    recorded_by=None,
    entry_key=None,
    year=None,
    number=None,
    version=None,
    colonies_present=None,
    colonies_to_open=None,
    colonies_opened=None,
    present="",
    told="",
    planned_on__isnull=False,
    voided_at=None,
)


PLANNED = Q(visited_on=None, cancelled_at=None)
MADE = Q(visited_on__isnull=False, voided_at=None)


class VisitQuerySet(models.QuerySet["Visit"]):
    def visible_to(self, person: Person) -> "VisitQuerySet":
        """Visits of the region's inspector; of yards one keeps or helps in, once they are announced or made."""
        inside = Q(yard__keeper_id=person.pk) | one_of(
            "yard_id", Yard.objects.recordable_by(person).values("pk")
        )
        told = Q(announced=True) | Q(visited_on__isnull=False)
        return self.filter(one_of("yard_id", _inspected(person)) | inside & told)

    def plannable_by(self, person: Person) -> "VisitQuerySet":
        """Those not made yet that the person may make or cancel: of any inspector of the region."""
        return self.planned().filter(one_of("yard_id", _inspected(person)))

    def editable_by(self, person: Person) -> "VisitQuerySet":
        """Made ones that the person may correct or void: who recorded them, while the region is theirs."""
        made = self.filter(visited_on__isnull=False, recorded_by=person)
        return made.filter(one_of("yard_id", _inspected(person)))

    def inspected_by(self, person: Person) -> "VisitQuerySet":
        """Visits in the regions of an inspector, whoever made them."""
        return self.filter(one_of("yard_id", _inspected(person)))

    def planned(self) -> "VisitQuerySet":
        """Neither made nor cancelled."""
        return self.filter(PLANNED)

    def made(self) -> "VisitQuerySet":
        """Those that count: made, and neither voided nor replaced by a correction (a corrected one is voided)."""
        return self.filter(MADE)

    def planned_or_made(self) -> "VisitQuerySet":
        """Both."""
        return self.filter(PLANNED | MADE)


def _inspected(person: Person) -> "models.QuerySet[Yard]":
    if not person.can(Permission.VISIT_RECORD):
        return Yard.objects.none().values("pk")
    return Yard.objects.inspected_by(person).values("pk")


@keeps_history
class Visit(models.Model):
    """One visit to one yard. Its row is made when it is planned, or when it is recorded if nobody planned it.

    `drawn`: the colonies in the order in which they were drawn to be opened, by their keys; the draw can be repeated
    from the yard, `drawn_on` and `draw` while the same colonies live there. A correction is a row of its own with the
    same number and the next version; the one before stays, voided, with who and why.
    """

    club = models.ForeignKey(Club, on_delete=models.PROTECT, related_name="visits")
    yard = models.ForeignKey(Yard, on_delete=models.PROTECT, related_name="visits")
    inspector = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="visits")

    planned_on = models.DateField(null=True, blank=True)
    planned_at = models.DateTimeField(null=True, blank=True)
    planned_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="visits_planned"
    )
    planned_why = models.CharField(max_length=200, blank=True)
    announced = models.BooleanField(
        default=True, help_text="The keeper sees the planned visit and is told of it."
    )
    cancelled_at = models.DateTimeField(null=True, blank=True)
    cancelled_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="visits_cancelled"
    )
    cancelled_why = models.CharField(max_length=200, blank=True)

    visited_on = models.DateField(null=True, blank=True, help_text="The calendar date in the yard.")
    present = models.CharField(max_length=8, blank=True, choices=Present.choices)
    present_who = models.CharField(max_length=120, blank=True)
    told = models.CharField(max_length=8, blank=True, choices=Told.choices)
    land_owner = models.CharField(max_length=200, blank=True)
    colonies_present = models.PositiveSmallIntegerField(null=True, blank=True)
    colonies_to_open = models.PositiveSmallIntegerField(null=True, blank=True)
    colonies_opened = models.PositiveSmallIntegerField(null=True, blank=True)
    rule = models.CharField(max_length=40, blank=True, help_text="By which rule, as in the table of rules.")
    draw = models.PositiveSmallIntegerField(default=0)
    drawn_on = models.DateField(null=True, blank=True, help_text="The day that the draw is seeded with.")
    drawn = ArrayField(models.BigIntegerField(), default=list, blank=True)
    weather = models.CharField(max_length=200, blank=True)
    remarks = models.TextField(max_length=4000, blank=True)
    recommendations = models.TextField(max_length=4000, blank=True)
    follow_up_on = models.DateField(null=True, blank=True)

    year = models.PositiveSmallIntegerField(null=True, blank=True)
    number = models.PositiveIntegerField(null=True, blank=True)
    version = models.PositiveSmallIntegerField(null=True, blank=True)
    entry_key = models.UUIDField(null=True, blank=True, unique=True)
    recorded_at = models.DateTimeField(null=True, blank=True)
    recorded_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="visits_recorded"
    )
    voided_at = models.DateTimeField(null=True, blank=True)
    voided_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="visits_voided"
    )
    voided_why = models.CharField(max_length=200, blank=True)
    corrects = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="corrected_by"
    )

    objects = VisitQuerySet.as_manager()

    class Meta:
        ordering = ["-visited_on", "-planned_on", "-pk"]
        indexes = [
            models.Index(fields=["yard", "-visited_on"], name="apiaries_visit_yard_newest"),
            models.Index(
                fields=["planned_on"],
                condition=Q(visited_on=None, cancelled_at=None),
                name="apiaries_visit_planned",
            ),
        ]
        constraints = [
            models.CheckConstraint(condition=MADE_WHOLE | NOT_MADE, name="apiaries_visit_made_whole"),
            models.CheckConstraint(
                condition=Q(planned_on=None, planned_at=None, planned_by=None)
                | Q(planned_on__isnull=False, planned_at__isnull=False, planned_by__isnull=False),
                name="apiaries_visit_planned_whole",
            ),
            models.CheckConstraint(
                condition=Q(cancelled_at=None, cancelled_by=None, cancelled_why="")
                | Q(cancelled_at__isnull=False, cancelled_by__isnull=False) & ~Q(cancelled_why=""),
                name="apiaries_visit_cancelled_whole",
            ),
            models.CheckConstraint(
                condition=Q(voided_at=None, voided_by=None, voided_why="")
                | Q(voided_at__isnull=False, voided_by__isnull=False) & ~Q(voided_why=""),
                name="apiaries_visit_voided_whole",
            ),
            models.CheckConstraint(
                condition=Q(colonies_opened=None) | Q(colonies_opened__lte=F("colonies_present")),
                name="apiaries_visit_opened_of_present",
            ),
            models.CheckConstraint(
                # A comparison with NULL is neither true nor false, and a CHECK lets that pass.
                condition=Q(follow_up_on=None)
                | Q(visited_on__isnull=False, follow_up_on__gte=F("visited_on")),
                name="apiaries_visit_follow_up_after",
            ),
            models.UniqueConstraint(
                fields=["club", "year", "number", "version"], name="apiaries_visit_report_number"
            ),
            models.UniqueConstraint(
                fields=["corrects"], condition=Q(voided_at=None), name="apiaries_visit_corrects_once"
            ),
            models.UniqueConstraint(
                fields=["yard", "planned_on"],
                condition=Q(visited_on=None, cancelled_at=None),
                name="apiaries_visit_planned_once",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.yard} on {self.visited_on or self.planned_on}"

    @property
    def state(self) -> VisitState:
        """What has become of it, from its facts."""
        if self.cancelled_at is not None:
            return VisitState.CANCELLED
        if self.visited_on is None:
            return VisitState.PLANNED
        return VisitState.VOIDED if self.voided_at is not None else VisitState.MADE

    @property
    def on(self) -> dt.date:
        """Its day: when it was made, else for when it is planned."""
        found = self.visited_on or self.planned_on
        if found is None:
            raise ValueError("A visit has a day.")
        return found

    @property
    def report(self) -> str:
        """The number of its report, such as 2026-007; a corrected one says which version it is."""
        if self.number is None:
            return ""
        plain = f"{self.year}-{self.number:03}"
        return plain if self.version == 1 else say("{number}, version {v}", number=plain, v=self.version)
