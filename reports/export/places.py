"""Tables of who and where: the account, yards and who helps there, colonies, where they went, what happened to them."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from apiaries.models import Colony, ColonyChange, ColonyMove, YardHelper
from reports.export.cells import CellKind, Value
from reports.export.tables import (
    Column,
    Scope,
    Table,
    colony,
    day,
    instant,
    own,
    recorded,
    text,
    voided,
    who,
    whole,
    yard,
    yes_no,
)


def _yard_number(scope: Scope, pk: int) -> int:
    return scope.yards[pk]


def _exact(scope: Scope, pk: int, degrees: Decimal | None) -> Decimal | None:
    return degrees if pk in scope.exact else None


def _area(scope: Scope, pk: int, cell: str) -> str:
    return cell if pk in scope.exact else ""


def _degrees(name: str, says: str) -> Column:
    return Column(name, CellKind.NUMBER, says, ("pk", name), _exact, places=5)


YARDS = Table(
    "yards",
    "Yards that you keep, and those of others that you may see.",
    (
        Column("yard", CellKind.WHOLE, "Its number in this file.", ("pk",), _yard_number),
        text("name", "What it is called."),
        own(),
        who("keeper", "Who keeps it."),
        text("region", "The region of the club that it lies in.", "region__name"),
        text("time_zone", "Its clock."),
        _degrees("latitude", "Degrees north; empty if not given, or not yours to see."),
        _degrees("longitude", "Degrees east; empty if not given, or not yours to see."),
        Column("area", CellKind.TEXT, "Its coarse map cell (H3, resolution 5).", ("pk", "cell"), _area),
        instant("made_at", "When it was set up."),
        day("closed_on", "The day on which it was closed; empty while it is open."),
    ),
    rows=Scope.yard_rows,
)
HELPERS = Table(
    "helpers",
    "Who helps in the yards that you keep. Invite them anew where you bring the file back.",
    (
        *yard("yard", "The yard's number in this file.", "yard"),
        who("helper", "Who helps.", "person"),
        instant("added_at", "When they were asked to."),
        who("added_by", "Who asked them."),
        instant("ended_at", "When that ended; empty while they help."),
        who("ended_by", "Who ended it."),
    ),
    rows=lambda scope: YardHelper.objects.filter(yard__keeper=scope.person).order_by("pk"),
    comes_back=False,
)
COLONIES = Table(
    "colonies",
    "Colonies that stand in these yards, and those that ended there.",
    (
        text("label_code", "The code of its hive's label: its key in this file."),
        *yard("yard", "Where it stands, or stood last.", "yard"),
        text("name", "What it is called."),
        whole("brood_boxes", "Boxes with brood."),
        yes_no("supers_on", "Whether honey supers are on."),
        text("brood", "Brood seen last: unknown, none, some, plenty."),
        day("brood_seen_on", "The day on which it was seen."),
        day("started_on", "The day on which it began."),
        yes_no("started_known", "If no, the day before is merely the first from which anything is noted."),
        day("ended_on", "The day on which it ended; empty while it lives."),
        text("ended_why", "What became of it."),
    ),
    rows=lambda scope: Colony.objects.visible_to(scope.person).order_by("pk"),
)
MOVES = Table(
    "moves",
    "Colonies that went from one yard to another.",
    (
        *colony("colony", "The label code of the colony.", "colony"),
        *yard("from_yard", "Where it stood before; empty for a yard that you may not see.", "from_yard"),
        *yard("to_yard", "Where it went; empty for a yard that you may not see.", "to_yard"),
        day("moved_on", "The day of the move."),
        *recorded(),
    ),
    rows=lambda scope: ColonyMove.objects.filter(
        colony__in=Colony.objects.visible_to(scope.person).values("pk")
    ).order_by("pk"),
)
CHANGES = Table(
    "life_events",
    "Colonies that were split, united or requeened, or that ended.",
    (
        *colony("colony", "The label code of the colony.", "colony"),
        text("kind", "What happened: split, united, requeened, ended."),
        *colony("other", "The new colony of a split, or the one that it was united into.", "other"),
        day("happened_on", "The day in the yard."),
        text("note", "What was noted."),
        *recorded(),
        *voided(),
    ),
    rows=lambda scope: ColonyChange.objects.visible_to(scope.person).order_by("pk"),
)


def _account(scope: Scope) -> Iterator[tuple[Value, ...]]:
    person, membership = scope.person, scope.person.membership
    yield (
        person.name,
        person.email,
        person.language,
        person.time_zone,
        membership.club.name if membership else "",
        membership.role if membership else "",
        membership.shares_counts if membership else None,
        membership.started_at if membership else None,
        person.wants_mail,
        person.wants_calls,
        person.wants_bulletins,
        person.mail_at,
        " ".join(str(one) for one in person.quiet_days),
        person.joined_at,
    )


def _fact(name: str, kind: CellKind, says: str) -> Column:
    return Column(name, kind, says, (name,), comes_back=False)


ACCOUNT = Table(
    "account",
    "What is kept of you yourself.",
    (
        _fact("name", CellKind.TEXT, "Your name."),
        _fact("email", CellKind.TEXT, "The address you sign in with."),
        _fact("language", CellKind.TEXT, "Of pages, mails and papers."),
        _fact("time_zone", CellKind.TEXT, "Your clock."),
        _fact("club", CellKind.TEXT, "Your club."),
        _fact("role", CellKind.TEXT, "Your part in it."),
        _fact("shares_counts", CellKind.YES_NO, "Whether coordinators may see your yards and counts."),
        _fact("member_since", CellKind.INSTANT, "When you joined the club."),
        _fact("wants_mail", CellKind.YES_NO, "Mails about recounts and steps of treatments."),
        _fact("wants_calls", CellKind.YES_NO, "Mails that ask for counts."),
        _fact("wants_bulletins", CellKind.YES_NO, "A line when a bulletin is issued."),
        _fact("mail_at", CellKind.CLOCK, "When your daily mail leaves."),
        _fact("quiet_days", CellKind.TEXT, "Days of the week without mail; 0 is Monday."),
        _fact("joined_at", CellKind.INSTANT, "When your account was made."),
    ),
    lines=_account,
    comes_back=False,
)
