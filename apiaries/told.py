"""How this app's facts are told when somebody asks what changed. Registered by `apiaries.apps`."""

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
from apiaries.models.ends import end_words
from apiaries.models.people import MembershipRegion
from apiaries.permissions import role_name
from apiaries.reference import JURISDICTION_WORDS, issuers
from apiaries.telling import Field, Named, Reader, Row, Teller, Told
from apiaries.templatetags.recount_words import plain
from apiaries.visit_reference import rule_name
from apiaries.visit_rules import ALL

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


def _visit_rule(value: str, row: Row, reader: Reader) -> str:
    return rule_name(value or ALL)


def in_unit(unit: str) -> Teller:
    """A teller of numbers in a unit: 150 W."""

    def told(value: object, row: Row, reader: Reader) -> str:
        return "" if value is None else f"{plain(value)} {unit}"

    return told


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
            lambda value, row, reader: say(JURISDICTION_WORDS.get(value) or value),
        ),
        "action_level_issuer": Field(
            mark("Whose action levels counts are compared with"),
            lambda value, row, reader: dict(issuers()).get(value) or str(value),
        ),
        "bees_per_half_cup": Field(mark("Bees taken as one level half cup")),
        "count_months": Field(
            mark("Months for counting"),
            lambda value, row, reader: listed([month_name(month) for month in value]),
        ),
        "visit_rule": Field(mark("How many colonies a visit opens"), _visit_rule),
        "visit_share_percent": Field(mark("Of the club’s own rule: share"), in_unit("%")),
        "visit_at_least": Field(mark("Of the club’s own rule: at least")),
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
    "forget_person": mark("Somebody left and was forgotten"),
    "forget_again": mark("Forgotten again after a backup was restored"),
    "look_once_more": mark("Somebody left and was forgotten: a second look"),
    "found_club": mark("Club founded"),
    "edit_club": mark("Settings changed"),
    "set_visit_rule": mark("Rule of visits chosen"),
    "set_count_months": mark("Months for counting chosen"),
    "add_region": mark("Region added"),
    "rename_region": mark("Region renamed"),
    "remove_region": mark("Region removed"),
    "bring_back_places": mark("Brought back from a file"),
}
"""What the actions of this app are called; those that write nothing of these facts have no words."""
