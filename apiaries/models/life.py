"""What happened to colonies: split, united, requeened, gone. A wrong fact is voided, with who and why."""

from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from apiaries.history import keeps_history
from apiaries.models.people import Person
from apiaries.models.places import Colony, Yard


class ChangeKind(models.TextChoices):
    """What happened. Moves are kept apart (`ColonyMove`): they have two yards."""

    SPLIT = "split", "split"
    UNITED = "united", "united"
    REQUEENED = "requeened", "requeened"
    ENDED = "ended", "gone"


WITH_OTHER = (ChangeKind.SPLIT, ChangeKind.UNITED)
ENDS = (ChangeKind.UNITED, ChangeKind.ENDED)


class ColonyChangeQuerySet(models.QuerySet["ColonyChange"]):
    def visible_to(self, person: Person) -> "ColonyChangeQuerySet":
        """What happened to colonies that stand in yards the person may see."""
        return self.filter(colony__yard__in=Yard.objects.visible_to(person).values("pk"))

    def editable_by(self, person: Person) -> "ColonyChangeQuerySet":
        """What the person may undo: in their own yards."""
        return self.filter(colony__yard__in=Yard.objects.editable_by(person).values("pk"))

    def standing(self) -> "ColonyChangeQuerySet":
        """Those that were not undone."""
        return self.filter(voided_at=None)


@keeps_history
class ColonyChange(models.Model):
    """One thing that happened to a colony on a day.

    `other`: the new colony of a split, or the one that `colony` was united into. While a union or an end stands, the
    colony's own `ended_on` says the same: it is kept there for the lists of living colonies.
    """

    colony = models.ForeignKey(Colony, on_delete=models.PROTECT, related_name="changes")
    kind = models.CharField(max_length=12, choices=ChangeKind.choices)
    other = models.ForeignKey(
        Colony, null=True, blank=True, on_delete=models.PROTECT, related_name="changes_as_other"
    )
    happened_on = models.DateField(help_text="The calendar date in the yard.")
    note = models.CharField(max_length=200, blank=True)
    recorded_at = models.DateTimeField(default=timezone.now)
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="colony_changes_recorded")
    voided_at = models.DateTimeField(null=True, blank=True)
    voided_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="colony_changes_voided"
    )
    voided_why = models.CharField(max_length=200, blank=True)

    objects = ColonyChangeQuerySet.as_manager()

    class Meta:
        ordering = ["happened_on", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind__in=ChangeKind.values), name="apiaries_colonychange_kind_known"
            ),
            models.CheckConstraint(
                condition=Q(kind__in=WITH_OTHER, other__isnull=False)
                | ~Q(kind__in=WITH_OTHER) & Q(other=None),
                name="apiaries_colonychange_other_where_needed",
            ),
            models.CheckConstraint(
                condition=Q(other=None) | ~Q(colony=F("other")), name="apiaries_colonychange_two_colonies"
            ),
            models.CheckConstraint(
                condition=Q(voided_at=None, voided_by=None, voided_why="")
                | Q(voided_at__isnull=False, voided_by__isnull=False) & ~Q(voided_why=""),
                name="apiaries_colonychange_voided_whole",
            ),
            models.UniqueConstraint(
                fields=["other"],
                condition=Q(kind=ChangeKind.SPLIT, voided_at=None),
                name="apiaries_colonychange_one_mother",
            ),
            models.UniqueConstraint(
                fields=["colony"],
                condition=Q(kind__in=ENDS, voided_at=None),
                name="apiaries_colonychange_ends_once",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.colony} {self.get_kind_display()} on {self.happened_on}"
