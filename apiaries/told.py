"""How this app's facts are told when somebody asks what changed. Registered by `apiaries.apps`."""

from django.urls import reverse

from apiaries.access import colony_for, own_club_for, region_for, seen_member_for, yard_for
from apiaries.language import listed, mark, month_name, say, say_as
from apiaries.models import (
    ChangeKind,
    Club,
    Colony,
    ColonyChange,
    ColonyMove,
    Membership,
    Person,
    Region,
    Yard,
    YardHelper,
)
from apiaries.models.people import MembershipRegion
from apiaries.models.places import end_words
from apiaries.permissions import role_name
from apiaries.reference import JURISDICTION_WORDS, issuers
from apiaries.telling import FactKind, Field, Named, Part, Reader, Row, Told
from apiaries.templatetags.recount_words import plain

SAID_BY_THE_LINE = "who and when stand beside every change"
NEVER_CHANGES = "never changes, and stands in the heading"
NAMES_THE_ROW = "names the row"
KIND_WORDS = {
    ChangeKind.SPLIT.value: mark("another colony was split off"),
    ChangeKind.UNITED.value: mark("united into another colony"),
    ChangeKind.REQUEENED.value: mark("another queen"),
    ChangeKind.ENDED.value: mark("gone"),
}

NAMES: dict[type, Named] = {
    Person: Named(
        lambda person, keys: Person.objects.filter(pk__in=keys).values_list("pk", "name"), mark("somebody")
    ),
    Yard: Named(
        lambda person, keys: Yard.objects.visible_to(person).filter(pk__in=keys).values_list("pk", "name"),
        mark("a yard you cannot see"),
    ),
    Region: Named(
        lambda person, keys: Region.objects.filter(pk__in=keys).values_list("pk", "name"),
        mark("a region that was removed"),
    ),
    Colony: Named(
        lambda person, keys: Colony.objects.visible_to(person).filter(pk__in=keys).values_list("pk", "name"),
        mark("a colony you cannot see"),
    ),
}


def _place(value: object, row: Row, reader: Reader) -> str:
    """The exact place for its keeper only: who may see where a yard is need not learn where it was."""
    if value is None:
        return say("only its area") if row["cell"] else ""
    if row["keeper_id"] != reader.person.pk:
        return say("given")
    return f"{plain(value)}, {plain(row['longitude'])}"


def _supers(value: object, row: Row, reader: Reader) -> str:
    return say_as("supers", "on") if value else say_as("supers", "off")


def in_seen_yard(row: Row, reader: Reader) -> bool:
    """What a row said while it belonged to a yard is told to those who see that yard."""
    return reader.sees(Yard, row["yard_id"])


YARD = Told(
    Yard,
    fields={
        "name": Field(mark("Name")),
        "keeper": Field(mark("Keeper")),
        "region": Field(mark("Region")),
        "time_zone": Field(mark("Time zone")),
        "latitude": Field(mark("Exact place"), _place, also=("longitude", "cell")),
        "closed_on": Field(mark("Closed")),
    },
    left_out={"club": NEVER_CHANGES, "made_at": SAID_BY_THE_LINE},
)
HELPER = Told(
    YardHelper,
    heading=mark("Helper"),
    named=lambda row, reader: reader.name(Person, row["person_id"]),
    fields={"ended_at": Field(mark("Helped until"))},
    left_out={
        "yard": NEVER_CHANGES,
        "person": NAMES_THE_ROW,
        "added_at": SAID_BY_THE_LINE,
        "added_by": SAID_BY_THE_LINE,
        "ended_by": SAID_BY_THE_LINE,
    },
)
COLONY = Told(
    Colony,
    fields={
        "name": Field(mark("Name")),
        "yard": Field(mark("Yard")),
        "label_code": Field(mark("Hive label")),
        "brood_boxes": Field(mark("Brood boxes")),
        "supers_on": Field(mark("Supers"), _supers),
        "brood": Field(mark("Brood")),
        "brood_seen_on": Field(mark("Brood seen")),
        "started_on": Field(mark("First day")),
        "started_known": Field(mark("First day is known")),
        "ended_on": Field(mark("Gone since")),
        "ended_why": Field(mark("What became of it"), lambda value, row, reader: end_words(value)),
    },
    left_out={"number": "follows from the name"},
    seen=in_seen_yard,
)
MOVE = Told(
    ColonyMove,
    heading=mark("Move"),
    fields={
        "from_yard": Field(mark("From")),
        "to_yard": Field(mark("To")),
        "moved_on": Field(mark("Day")),
    },
    left_out={
        "colony": NEVER_CHANGES,
        "recorded_at": SAID_BY_THE_LINE,
        "recorded_by": SAID_BY_THE_LINE,
    },
    seen=lambda row, reader: reader.sees(Yard, row["from_yard_id"]) or reader.sees(Yard, row["to_yard_id"]),
)
LIFE = Told(
    ColonyChange,
    heading=mark("What happened"),
    fields={
        "kind": Field(mark("What"), lambda value, row, reader: say(KIND_WORDS[value])),
        "colony": Field(mark("Colony")),
        "other": Field(mark("Other colony")),
        "happened_on": Field(mark("Day")),
        "note": Field(mark("Note"), lambda value, row, reader: end_words(value)),
        "voided_at": Field(mark("Undone")),
        "voided_by": Field(mark("Undone by")),
    },
    left_out={
        "recorded_at": SAID_BY_THE_LINE,
        "recorded_by": SAID_BY_THE_LINE,
    },
    why=("voided_why",),
)
MEMBERSHIP = Told(
    Membership,
    fields={
        "role": Field(mark("Role"), lambda value, row, reader: role_name(value)),
        "shares_counts": Field(mark("Coordinators may see the counts")),
        "ended_at": Field(mark("Left the club")),
        "ended_by": Field(mark("Ended by")),
    },
    left_out={"club": NEVER_CHANGES, "person": NEVER_CHANGES, "started_at": SAID_BY_THE_LINE},
)
MEMBER_REGION = Told(
    MembershipRegion,
    heading=mark("Region"),
    named=lambda row, reader: reader.name(Region, row["region_id"]),
    fields={},
    left_out={"membership": NEVER_CHANGES, "region": NAMES_THE_ROW},
    story=("membership_id", "region_id"),
)
CLUB = Told(
    Club,
    fields={
        "name": Field(mark("Name")),
        "time_zone": Field(mark("Time zone")),
        "jurisdiction": Field(
            mark("Whose labels apply"),
            lambda value, row, reader: say(JURISDICTION_WORDS.get(value, value)),
        ),
        "action_level_issuer": Field(
            mark("Whose action levels counts are compared with"),
            lambda value, row, reader: dict(issuers()).get(value, value),
        ),
        "bees_per_half_cup": Field(mark("Bees taken as one level half cup")),
        "count_months": Field(
            mark("Months for counting"),
            lambda value, row, reader: listed([month_name(month) for month in value]),
        ),
        "is_invented": Field(mark("Made up, to show how it works")),
    },
    left_out={"founded_at": SAID_BY_THE_LINE},
)
REGION = Told(
    Region,
    heading=mark("Region"),
    named=lambda row, reader: row["name"],
    fields={"name": Field(mark("Name"))},
    left_out={"club": NEVER_CHANGES},
)
TABLES = (YARD, HELPER, COLONY, MOVE, LIFE, MEMBERSHIP, MEMBER_REGION, CLUB, REGION)


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
VERBS = {
    "add_yard": mark("Yard added"),
    "set_up_yard": mark("Yard set up"),
    "edit_yard": mark("Yard changed"),
    "add_helper": mark("Helper added"),
    "end_helper": mark("Helper ended"),
    "add_colonies": mark("Colonies added"),
    "add_numbered_colonies": mark("Colonies added"),
    "describe_colony": mark("Colony described anew"),
    "move_colony": mark("Colony moved"),
    "split_colony": mark("Colony split"),
    "unite_colonies": mark("Colonies united"),
    "requeen_colony": mark("Another queen noted"),
    "end_colony": mark("Colony noted as gone"),
    "undo_change": mark("Undone"),
    "sign_up": mark("Joined the club"),
    "accept_invitation": mark("Joined the club"),
    "change_role": mark("Role or regions changed"),
    "set_sharing": mark("Said who may see the counts"),
    "end_membership": mark("Membership ended"),
    "found_club": mark("Club founded"),
    "edit_club": mark("Settings changed"),
    "set_count_months": mark("Months for counting chosen"),
    "add_region": mark("Region added"),
    "rename_region": mark("Region renamed"),
    "remove_region": mark("Region removed"),
}
"""What the actions of this app are called; those that write nothing of these facts have no words."""
