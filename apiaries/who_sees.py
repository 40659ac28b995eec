"""Who sees what, in words: the tables of the page and the line on a yard's page.

The tables are held against the querysets by tests/apiaries/test_access.py; the line is worked out for the yard.
"""

from dataclasses import dataclass, replace
from typing import Any

from django.db.models import Count, Exists, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce

from apiaries.built_once import BuiltOnce
from apiaries.language import listed, mark, say, say_as, say_many
from apiaries.models import Membership, Person, Yard, YardHelper
from apiaries.permissions import ROLE_PERMISSIONS, ROLE_WORDS, Permission, Role, role_name

PERMISSION_WORDS: dict[Permission, str] = {
    Permission.YARD_CREATE: mark("Set up yards of their own"),
    Permission.YARD_VIEW_IN_REGION: mark(
        "See every yard in the regions assigned to them, with its counts and treatments"
    ),
    Permission.SAMPLE_VIEW_SHARED: mark("See the yards and counts of members who said they may be seen"),
    Permission.REGION_VIEW: mark("See the club's region figures, each month as it was published"),
    Permission.REGION_VIEW_LIVE: mark(
        "See the region figures as they are now, and treatment results over all yards"
    ),
    Permission.MEMBER_VIEW: mark("See the list of members with names and e-mail addresses"),
    Permission.MEMBER_INVITE: mark("Invite people to the club"),
    Permission.CLUB_EDIT: mark("Change the club's settings, regions, roles and members"),
    Permission.COUNT_WEEK_SET: mark("Set count weeks and the months in which the club asks for counts"),
    Permission.BULLETIN_WRITE: mark(
        "Write the foreword of the club's monthly bulletin, issue and withdraw it"
    ),
    Permission.VISIT_RECORD: mark(
        "Plan and record visits in the regions assigned to them, with the counts made at a visit"
    ),
}


@dataclass(frozen=True)
class RoleRow:
    """One permission and, in the order of the roles, (name of the role, whether it has it)."""

    words: str
    cells: tuple[tuple[str, bool], ...]


@dataclass(frozen=True)
class RowRule:
    """Something of a single yard, and who has it. `coordinator` means: of a keeper who shares."""

    what: str
    keeper: bool = True
    helper: bool = False
    inspector_here: bool = False
    coordinator: bool = False
    note: str = ""


ROW_RULES: tuple[RowRule, ...] = (
    RowRule(
        mark("See the yard, its colonies, counts and treatments"),
        helper=True,
        inspector_here=True,
        coordinator=True,
    ),
    RowRule(mark("See its exact place, if the keeper gave one"), helper=True, inspector_here=True),
    RowRule(mark("Log counts and treatments in it"), helper=True),
    RowRule(
        mark("Correct or void a count"),
        helper=True,
        note=mark(
            "a helper only their own counts, nobody those of an inspector's visit. Nothing is erased: it is struck "
            "through, with who and why."
        ),
    ),
    RowRule(mark("Change the yard, its colonies and its helpers")),
    RowRule(mark("See the keeper's purchases and disposals of medicine"), helper=True, inspector_here=True),
    RowRule(mark("See the visits of inspectors and their reports"), helper=True, inspector_here=True),
    RowRule(
        mark("Record a visit, and counts made at it"),
        keeper=False,
        inspector_here=True,
        note=mark("who recorded it corrects or voids it and its counts. Nothing is erased."),
    ),
)


def roles() -> list[tuple[str, str]]:
    """(name, what it is for) of every role, in order."""
    return [(role_name(role), say(ROLE_WORDS[role])) for role in Role]


def role_table() -> list[RoleRow]:
    """Every permission and which roles include it, from the lists that the service itself asks."""
    return [
        RoleRow(
            say(PERMISSION_WORDS[permission]),
            tuple((role_name(role), permission in ROLE_PERMISSIONS[role]) for role in Role),
        )
        for permission in Permission
    ]


def row_rules() -> list[RowRule]:
    """`ROW_RULES` in the reader's language."""
    return [replace(rule, what=say(rule.what), note=say(rule.note)) for rule in ROW_RULES]


def who_sees_yard(yard: Yard, *, viewer: Person, named: bool = True) -> str:
    """Who can see this yard now, true for this one: keeper, helpers, the region's inspectors, coordinators.

    `named=False` leaves out the keeper's name, for pages that a helper's phone keeps.
    """
    number = _numbers(yard)
    seen_by = _seen_by(yard, number, viewer, named=named)
    if number.shares:
        seen_by.append(say("the club's coordinators, but not the exact place"))
        return say("Seen by {people}. Nobody else.", people=listed(seen_by))
    return say(
        "Seen by {people}. Nobody else. Coordinators see only figures of the whole region.",
        people=listed(seen_by),
    )


def who_sees_visit(yard: Yard, *, viewer: Person) -> str:
    """Who can read the reports of visits to this yard now: no coordinator is among them."""
    return say(
        "Seen by {people}. Nobody else.", people=listed(_seen_by(yard, _numbers(yard), viewer, named=True))
    )


@dataclass(frozen=True, slots=True)
class _Numbers:
    """How many help in a yard, how many inspect its region, and whether its keeper shares counts."""

    helpers: int
    inspectors: int
    shares: bool


def _seen_by(yard: Yard, number: _Numbers, viewer: Person, *, named: bool) -> list[str]:
    """Keeper, helpers and the region's inspectors."""
    other = yard.keeper.name if named else say_as("who sees a yard", "its keeper")
    seen_by = [say_as("who sees a yard", "you") if viewer.pk == yard.keeper_id else other]
    if number.helpers:
        seen_by.append(say_many("{n} helper", "{n} helpers", number.helpers))
    if number.inspectors:
        seen_by.append(
            say_many(
                "{n} inspector of {region}",
                "{n} inspectors of {region}",
                number.inspectors,
                region=yard.region.name,
            )
        )
    return seen_by


def _numbers(yard: Yard) -> _Numbers:
    """Of those who are in the club now. One statement."""
    keys = {"yard": yard.pk, "club": yard.club_id, "region": yard.region_id, "keeper": yard.keeper_id}
    return _Numbers(*_ASKED.row(**keys))


def _asked(*, yard: int, club: int, region: int, keeper: int) -> "QuerySet[Yard, Any]":
    members = Membership.objects.current().filter(club=club)
    helpers = YardHelper.objects.filter(yard=yard, ended_at=None, person__in=members.values("person"))
    inspectors = members.filter(role=Role.INSPECTOR, regions=region)
    shares = members.filter(person=keeper, shares_counts=True)
    return Yard.objects.filter(pk=yard).values_list(_number(helpers), _number(inspectors), Exists(shares))


_ASKED = BuiltOnce(_asked, ("yard", "club", "region", "keeper"))


def _number(rows: "QuerySet[Any]") -> Coalesce:
    """How many rows there are, within another statement."""
    counted = rows.order_by().annotate(one=Value(1)).values("one").annotate(number=Count("*"))
    return Coalesce(Subquery(counted.values("number")), 0)
