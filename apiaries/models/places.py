"""Yards, the colonies that stand in them, and where those stood before."""

import datetime as dt
import secrets
from collections.abc import Iterable

import h3
from django.db import connection, models, transaction
from django.db.models import F, Q
from django.db.models.functions import Lower
from django.utils import timezone
from django.utils.translation import pgettext_lazy

from apiaries.history import keeps_history
from apiaries.models.ends import end_words
from apiaries.models.one_of import one_of
from apiaries.models.people import Club, Person, Region, known_time_zone
from apiaries.permissions import Role
from apiaries.zones import zone_of

# No 0 O 1 I L: a label is read through propolis and typed with gloves.
LABEL_LETTERS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
# Cells of about 250 km2: what others see of a place (H3 documentation, table of average cell areas).
COARSE_RESOLUTION = 5

_HOLD = 'SELECT id FROM "apiaries_yard" WHERE id = ANY(%s::bigint[]) ORDER BY id FOR NO KEY UPDATE'


def new_label_code() -> str:
    """What a hive label says: 8 letters, about 8 × 10^11 possible."""
    return "".join(secrets.choice(LABEL_LETTERS) for _ in range(8))


def coarse_cell(latitude: float, longitude: float) -> str:
    """The H3 cell of a place. Snapped once to a fixed grid: fresh noise could be averaged away."""
    return str(h3.latlng_to_cell(latitude, longitude, COARSE_RESOLUTION))


class YardQuerySet(models.QuerySet["Yard"]):
    """Who may do what with which yards. Written as subqueries: joins would repeat a yard."""

    def editable_by(self, person: Person) -> "YardQuerySet":
        """Yards whose set-up the person may change: their own, while they belong to the yard's club."""
        return self.filter(keeper_id=person.pk, club_id=_club_of(person))

    def recordable_by(self, person: Person) -> "YardQuerySet":
        """Yards in which the person may log counts and treatments: their own and those they help in."""
        own = Q(keeper_id=person.pk, club_id=_club_of(person))
        return self.filter(own | one_of("pk", _helped_by(person)))

    def hold(self, keys: Iterable[int]) -> None:
        """Lock these yards until the transaction ends, in the order of their keys; readers go on.

        Whoever changes what is worked out from a yard's counts takes this lock before any other: two that take their
        locks in different order wait for each other for ever.
        """
        if not connection.in_atomic_block:
            raise transaction.TransactionManagementError("Yards are held within a transaction.")
        if held := list(set(keys)):
            with connection.cursor() as cursor:
                cursor.execute(_HOLD, [held])

    def visible_to(self, person: Person) -> "YardQuerySet":
        """Yards the person may see, with everything in them. Who left the club still sees their own."""
        seen = Q(keeper_id=person.pk) | one_of("pk", _helped_by(person)) | _inspected_by(person)
        membership = person.membership
        if membership is not None and membership.role == Role.COORDINATOR:
            sharing = membership.club.memberships.current().filter(shares_counts=True)
            seen |= Q(club_id=membership.club_id) & one_of("keeper_id", sharing.values("person_id"))
        return self.filter(seen)

    def exact_place_visible_to(self, person: Person) -> "YardQuerySet":
        """Yards whose exact place the person may see: keeper, helpers and the region's inspector."""
        return self.filter(Q(keeper_id=person.pk) | one_of("pk", _helped_by(person)) | _inspected_by(person))

    def inspected_by(self, person: Person) -> "YardQuerySet":
        """Yards of the regions assigned to an inspector; none for everybody else."""
        return self.filter(_inspected_by(person))


def _club_of(person: Person) -> int | None:
    membership = person.membership
    return membership.club_id if membership else None


def _inspected_by(person: Person) -> Q:
    membership = person.membership
    if membership is None or membership.role != Role.INSPECTOR:
        return Q(pk__in=[])
    return Q(club_id=membership.club_id) & one_of("region_id", membership.regions.values("pk"))


def _helped_by(person: Person) -> "models.QuerySet[YardHelper]":
    """Yards the person helps in; none once they have left the club that the yard belongs to."""
    standing = YardHelper.objects.filter(person=person, ended_at=None, yard__club_id=_club_of(person))
    return standing.values("yard_id")


@keeps_history
class Yard(models.Model):
    """A place with colonies, kept by one person."""

    club = models.ForeignKey(Club, on_delete=models.PROTECT, related_name="yards")
    keeper = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="yards")
    region = models.ForeignKey(Region, on_delete=models.PROTECT, related_name="yards")
    name = models.CharField(max_length=80)
    time_zone = models.CharField(max_length=64, validators=[known_time_zone])
    latitude = models.DecimalField(max_digits=8, decimal_places=5, null=True, blank=True)
    longitude = models.DecimalField(max_digits=8, decimal_places=5, null=True, blank=True)
    cell = models.CharField(
        max_length=16, blank=True, help_text="Coarse H3 cell, from the exact place if given."
    )
    made_at = models.DateTimeField(default=timezone.now)
    closed_on = models.DateField(null=True, blank=True)

    objects = YardQuerySet.as_manager()

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.UniqueConstraint(
                "keeper",
                Lower("name"),
                condition=Q(closed_on=None),
                name="apiaries_yard_name_unique_for_keeper",
            ),
            models.CheckConstraint(
                condition=Q(latitude=None, longitude=None)
                # A comparison with NULL is neither true nor false, and a CHECK lets that pass.
                | Q(latitude__isnull=False, longitude__isnull=False)
                & Q(latitude__gte=-90, latitude__lte=90, longitude__gte=-180, longitude__lte=180),
                name="apiaries_yard_place_whole",
            ),
        ]
        indexes = [
            # For an inspector's yards, which the second lock asks for with every statement: read in the index alone.
            models.Index(fields=["region", "club"], include=["id"], name="apiaries_yard_of_regions"),
            # For what lies around a place: always asked within some regions.
            models.Index(
                fields=["region", "latitude", "longitude"],
                condition=Q(closed_on=None, latitude__isnull=False),
                name="apiaries_yard_place",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def local_date(self, at: dt.datetime) -> dt.date:
        """The calendar date in the yard at that moment: what a count made then is dated."""
        return at.astimezone(zone_of(self.time_zone)).date()


@keeps_history
class YardHelper(models.Model):
    """Somebody who logs in a yard that another person keeps."""

    yard = models.ForeignKey(Yard, on_delete=models.PROTECT, related_name="helpers")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="helps_in")
    added_at = models.DateTimeField(auto_now_add=True)
    added_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="helpers_added")
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="helpers_ended"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["yard", "person"], condition=Q(ended_at=None), name="apiaries_yardhelper_once"
            ),
            models.CheckConstraint(
                condition=Q(ended_at=None, ended_by=None) | Q(ended_at__isnull=False, ended_by__isnull=False),
                name="apiaries_yardhelper_ended_pair",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person} helps in {self.yard}"


class Brood(models.TextChoices):
    """What was last seen in the brood nest."""

    UNKNOWN = "unknown", pgettext_lazy("brood", "not looked")
    NONE = "none", pgettext_lazy("brood", "none")
    SOME = "some", pgettext_lazy("brood", "some")
    PLENTY = "plenty", pgettext_lazy("brood", "plenty")


class ColonyQuerySet(models.QuerySet["Colony"]):
    def visible_to(self, person: Person) -> "ColonyQuerySet":
        """Colonies standing in yards the person may see."""
        return self.filter(one_of("yard_id", Yard.objects.visible_to(person).values("pk")))

    def recordable_by(self, person: Person) -> "ColonyQuerySet":
        """Colonies for which the person may log counts and treatments."""
        return self.filter(one_of("yard_id", Yard.objects.recordable_by(person).values("pk")))

    def editable_by(self, person: Person) -> "ColonyQuerySet":
        """Colonies the person may move, describe or end: those that stand in yards of their own."""
        return self.filter(yard__keeper_id=person.pk, yard__club_id=_club_of(person))

    def living(self) -> "ColonyQuerySet":
        """Those that have not died out, been united or sold."""
        return self.filter(ended_on=None)

    def in_reading_order(self) -> "ColonyQuerySet":
        """1, 2, 10 rather than 1, 10, 2: numbered names by number, then the rest by name."""
        return self.order_by(F("number").asc(nulls_last=True), "name", "pk")


@keeps_history
class Colony(models.Model):
    """The bees in one hive. Counts and treatments belong to the colony, the label to the hive it lives in."""

    yard = models.ForeignKey(Yard, on_delete=models.PROTECT, related_name="colonies")
    name = models.CharField(max_length=40)
    number = models.PositiveIntegerField(null=True, blank=True, help_text="The name, when it is a number.")
    label_code = models.CharField(max_length=12, unique=True, default=new_label_code)
    brood_boxes = models.PositiveSmallIntegerField(default=1)
    supers_on = models.BooleanField(default=False)
    brood = models.CharField(max_length=8, choices=Brood.choices, default=Brood.UNKNOWN)
    brood_seen_on = models.DateField(null=True, blank=True)
    started_on = models.DateField()
    started_known = models.BooleanField(
        default=True, help_text="If not, `started_on` is the first day from which anything is noted."
    )
    ended_on = models.DateField(null=True, blank=True)
    ended_why = models.CharField(max_length=200, blank=True)

    objects = ColonyQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                "yard", Lower("name"), condition=Q(ended_on=None), name="apiaries_colony_name_unique_in_yard"
            ),
            models.CheckConstraint(
                condition=Q(brood_boxes__gte=1, brood_boxes__lte=6),
                name="apiaries_colony_brood_boxes_plausible",
            ),
            models.CheckConstraint(
                condition=Q(ended_on=None) | Q(ended_on__gte=F("started_on")),
                name="apiaries_colony_ends_after_start",
            ),
            models.CheckConstraint(condition=Q(brood__in=Brood.values), name="apiaries_colony_brood_known"),
            models.CheckConstraint(
                condition=Q(brood=Brood.UNKNOWN) | Q(brood_seen_on__isnull=False),
                name="apiaries_colony_brood_has_a_date",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def known_start(self) -> dt.date | None:
        """The day before which it was not there; None where nobody noted it."""
        return self.started_on if self.started_known else None

    @property
    def end_words(self) -> str:
        """What became of it, for a reader."""
        return end_words(self.ended_why)


@keeps_history
class ColonyMove(models.Model):
    """A colony went from one yard to another; counts made before stay with the yard they were made in."""

    colony = models.ForeignKey(Colony, on_delete=models.PROTECT, related_name="moves")
    from_yard = models.ForeignKey(Yard, on_delete=models.PROTECT, related_name="moves_out")
    to_yard = models.ForeignKey(Yard, on_delete=models.PROTECT, related_name="moves_in")
    moved_on = models.DateField()
    recorded_at = models.DateTimeField(default=timezone.now)
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="moves_recorded")

    class Meta:
        ordering = ["moved_on", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(from_yard=F("to_yard")), name="apiaries_colonymove_to_another_yard"
            )
        ]

    def __str__(self) -> str:
        return f"{self.colony} from {self.from_yard} to {self.to_yard} on {self.moved_on}"
