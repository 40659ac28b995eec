"""Whose past may be asked for in this app: yards, colonies, memberships, a club's settings and regions."""

from django.urls import reverse

from apiaries.access import colony_for, own_club_for, region_for, seen_member_for, yard_for
from apiaries.language import say
from apiaries.models import Colony, Membership, Person, Yard
from apiaries.telling import FactKind, Part
from apiaries.told import CLUB, COLONY, HELPER, LIFE, MEMBER_REGION, MEMBERSHIP, MOVE, REGION, YARD


def _yard_parts(yard: Yard, person: Person) -> list[Part]:
    may_place = Yard.objects.exact_place_visible_to(person).filter(pk=yard.pk).exists()
    parts = [Part(YARD, {"pk": yard.pk}, frozenset() if may_place else frozenset({"latitude"}))]
    # Who helps is a page of the keeper's alone.
    if Yard.objects.editable_by(person).filter(pk=yard.pk).exists():
        parts.append(Part(HELPER, {"yard_id": yard.pk}))
    return parts


def _colony_parts(colony: Colony, person: Person) -> list[Part]:
    return [
        Part(COLONY, {"pk": colony.pk}),
        Part(MOVE, {"colony_id": colony.pk}),
        Part(LIFE, {"colony_id": colony.pk}),
        Part(LIFE, {"other_id": colony.pk}),
    ]


def _membership_parts(membership: Membership, person: Person) -> list[Part]:
    # The list of members does not say who shares their counts; oneself may know.
    own = membership.person_id == person.pk
    return [
        Part(MEMBERSHIP, {"pk": membership.pk}, frozenset() if own else frozenset({"shares_counts"})),
        Part(MEMBER_REGION, {"membership_id": membership.pk}),
    ]


def _to_members(membership: Membership, person: Person) -> str:
    return reverse("apiaries:me" if membership.person_id == person.pk else "apiaries:member-list")


KINDS = (
    FactKind(
        "yard",
        yard_for,
        _yard_parts,
        lambda yard, person: say("Yard {name}", name=yard.name),
        lambda yard, person: reverse("apiaries:yard-detail", args=[yard.pk]),
    ),
    FactKind(
        "colony",
        colony_for,
        _colony_parts,
        lambda colony, person: say("Colony {name}, {yard}", name=colony.name, yard=colony.yard.name),
        lambda colony, person: reverse("apiaries:colony-detail", args=[colony.pk]),
    ),
    FactKind(
        "membership",
        seen_member_for,
        _membership_parts,
        lambda membership, person: say("Membership of {name}", name=membership.person.name),
        _to_members,
    ),
    FactKind(
        "club",
        own_club_for,
        lambda club, person: [Part(CLUB, {"pk": club.pk}), Part(REGION, {"club_id": club.pk})],
        lambda club, person: say("Settings and regions of {name}", name=club.name),
        lambda club, person: reverse("apiaries:club-edit"),
    ),
    FactKind(
        "region",
        region_for,
        lambda region, person: [Part(REGION, {"pk": region.pk})],
        lambda region, person: say("Region {name}", name=region.name),
        lambda region, person: reverse("apiaries:region-edit", args=[region.pk]),
    ),
)
