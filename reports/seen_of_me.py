"""What others see of somebody, as they see it: asked with the same questions as their own pages, for them.

There is no second list of rules here. Who has a reason to see something (helpers, inspectors, keepers one helps) is
asked in person; for everybody else somebody of their role who is nobody in particular is asked.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Count, Max, Q

from apiaries.language import figure, mark, say, say_as, say_many
from apiaries.models import Club, Person, Yard, YardHelper, anybody
from apiaries.permissions import Permission, Role
from apiaries.presenters import members_for_list
from counts.habits import members_panel
from counts.models import CountWeek, MiteSample
from reports.models import Suspension
from treatments.models import MedicineDisposal, MedicinePurchase, Treatment

TITLES = {
    Role.MEMBER: mark("Every other member"),
    Role.COORDINATOR: mark("Coordinators"),
    Role.INSPECTOR: mark("Inspectors of other regions"),
    Role.ADMINISTRATOR: mark("Administrators"),
}
ROLES_INSIDE = {
    Role.MEMBER: mark("member"),
    Role.COORDINATOR: mark("coordinator"),
    Role.INSPECTOR: mark("inspector"),
    Role.ADMINISTRATOR: mark("administrator"),
}


@dataclass(frozen=True, slots=True)
class SeenYard:
    """A yard as somebody sees it. `may_place`: whether its exact place, where there is one, is shown to them."""

    yard: Yard
    living: int
    may_place: bool
    counts: int
    counted_on: dt.date | None
    treatments: int

    @property
    def place(self) -> tuple[Decimal, Decimal] | None:
        """What they are shown of the exact place."""
        latitude, longitude = self.yard.latitude, self.yard.longitude
        known = latitude is not None and longitude is not None
        return (latitude, longitude) if self.may_place and known else None  # type: ignore[return-value]


@dataclass(frozen=True, slots=True)
class Seen:
    """All that one viewer, or everybody of one kind, sees of somebody."""

    title: str
    about: str
    yards: Sequence[SeenYard]
    facts: Sequence[tuple[str, str]]
    """What it is, and its present value."""

    @property
    def nothing(self) -> bool:
        return not self.yards and not self.facts


def seen_of(person: Person) -> list[Seen]:
    """By whom what is seen: first those who are named, then everybody else of each role, then those outside."""
    membership = person.membership
    kept = Club.objects.filter(yards__keeper=person)
    clubs = list(Club.objects.filter(Q(pk__in=kept) | Q(pk=membership.club_id if membership else None)))
    seen = [one for club in clubs for one in (*_named(person, club), *_of_roles(person, club))]
    outside = say(
        "People of other clubs, those who belong to none, and anybody who is not signed in. Where the club shows its "
        "published months outside, they see those, and nobody can be told from them."
    )
    return [*seen, _seen(person, anybody(None), say("Anybody outside the club"), outside)]


def _named(person: Person, club: Club) -> Iterable[Seen]:
    """Those with a reason of their own to see something."""
    reasons: dict[int, list[str]] = defaultdict(list)
    helping = YardHelper.objects.filter(ended_at=None, yard__club=club).order_by("yard__name", "pk")
    for helper in helping.filter(yard__keeper=person).select_related("yard"):
        reasons[helper.person_id].append(say("helps in {yard}", yard=helper.yard.name))
    for helper in helping.filter(person=person).select_related("yard"):
        reasons[helper.yard.keeper_id].append(say("keeps {yard}, in which you help", yard=helper.yard.name))
    mine = {yard.region_id for yard in Yard.objects.filter(keeper=person, club=club)}
    members = (
        club.memberships.current().exclude(person=person).select_related("person").order_by("person__name")
    )
    inspecting = members.filter(role=Role.INSPECTOR, regions__in=mine).distinct()
    for one in inspecting.prefetch_related("regions"):
        names = [region.name for region in one.regions.all() if region.pk in mine]
        reasons[one.person_id].append(say("inspector of {regions}", regions=", ".join(names)))
    for one in members.filter(person__in=list(reasons)):
        about = "; ".join(reasons[one.person_id])
        yield _seen(person, one.person, one.person.name, f"{about[0].upper()}{about[1:]}.")


def _of_roles(person: Person, club: Club) -> Iterable[Seen]:
    """Everybody else of each role, as somebody of that role who is nobody in particular."""
    people: dict[str, list[str]] = defaultdict(list)
    members = club.memberships.current().exclude(person=person).select_related("person")
    for one in members.exclude(role=Role.MEMBER).order_by("person__name"):
        people[one.role].append(one.person.name)
    for role, title in TITLES.items():
        if role in (Role.MEMBER, Role.INSPECTOR):
            about = say("Those who are not named on this page.")
        elif people[role]:
            about = say("At present {names}.", names=", ".join(people[role]))
        else:
            about = say("Nobody at present. They would see:")
        yield _seen(person, anybody(club, role), say(title), about)


def _seen(person: Person, viewer: Person, title: str, about: str) -> Seen:
    return Seen(title, about, yards_seen(person, viewer), list(_facts(person, viewer)))


def yards_seen(person: Person, viewer: Person) -> list[SeenYard]:
    """The yards that somebody keeps, as a viewer sees them. Four queries."""
    yards = Yard.objects.visible_to(viewer).filter(keeper=person)
    placed = set(
        Yard.objects.exact_place_visible_to(viewer).filter(keeper=person).values_list("pk", flat=True)
    )
    samples = MiteSample.objects.visible_to(viewer).standing().filter(yard__keeper=person)
    counts = {
        pk: (number, newest)
        for pk, number, newest in samples.values("yard")
        .annotate(number=Count("pk"), newest=Max("sampled_on"))
        .order_by()
        .values_list("yard", "number", "newest")
    }
    given = Treatment.objects.visible_to(viewer).standing().filter(yard__keeper=person)
    treatments = dict(
        given.values("yard").annotate(number=Count("pk")).order_by().values_list("yard", "number")
    )
    return [
        SeenYard(
            yard=yard,
            living=yard.living,
            may_place=yard.pk in placed,
            counts=counts.get(yard.pk, (0, None))[0],
            counted_on=counts.get(yard.pk, (0, None))[1],
            treatments=treatments.get(yard.pk, 0),
        )
        for yard in yards.select_related("region")
        .annotate(living=Count("colonies", filter=Q(colonies__ended_on=None)))
        .order_by("name", "pk")
    ]


def _facts(person: Person, viewer: Person) -> Iterable[tuple[str, str]]:
    """What else of somebody is on the viewer's pages."""
    yield from _as_member(person, viewer)
    helped = YardHelper.objects.filter(
        person=person, ended_at=None, yard__in=Yard.objects.editable_by(viewer).values("pk")
    )
    if helped.exists():
        yield say("You among the helpers of their yards"), f"{person.name}, {person.email}"
    made = (
        MiteSample.objects.visible_to(viewer).filter(recorded_by=person).exclude(yard__keeper=person).count()
    )
    if made:
        yield (
            say("Your name on counts that you logged in other yards"),
            say_many("{n} count", "{n} counts", made),
        )
    bought = MedicinePurchase.objects.visible_to(viewer).standing().filter(keeper=person).count()
    if bought:
        yield say("Medicines you bought"), say_many("{n} entry", "{n} entries", bought)
    disposed = MedicineDisposal.objects.visible_to(viewer).standing().filter(keeper=person).count()
    if disposed:
        yield say("Medicines you disposed of"), say_many("{n} entry", "{n} entries", disposed)
    weeks = CountWeek.objects.visible_to(viewer).filter(Q(set_by=person) | Q(cancelled_by=person)).count()
    if weeks:
        yield (
            say("Your name on count weeks that you set or cancelled"),
            say_many("{n} week", "{n} weeks", weeks),
        )


def _as_member(person: Person, viewer: Person) -> Iterable[tuple[str, str]]:
    """What the page of members shows to those who may open it, with the hints on it."""
    membership = viewer.membership
    if membership is None or not viewer.can(Permission.MEMBER_VIEW):
        return
    listed: Any = members_for_list(membership.club).filter(person=person).first()
    if listed is None:
        return
    role = say(ROLES_INSIDE[Role(listed.role)])
    yield say("You in the list of members"), f"{person.name}, {person.email}, {role}"
    yards = figure(f"{listed.yards}") if listed.yards else say_as("number of yards", "none")
    yield say("How many yards you keep"), yards
    if Suspension.objects.filter(person=person).exists():
        yield say("That no mail reaches you"), say("since when; not what your mail server said")
    hints = members_panel(viewer, membership.club)
    for habit in hints.context["habits"] if hints else ():
        if habit.person_id == person.pk:
            yield say("A hint about your washes"), " ".join(habit.sentences)
