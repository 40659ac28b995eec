"""The first page of who has nothing to do in yards of their own: what of the club, or of their regions, needs a look.

Coordinators, inspectors and administrators each get what their role may see and do. A constant number of queries.
"""

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from django.db.models import Count, Q

from apiaries.language import say
from apiaries.models import Club, Invitation, Membership, Person, Region, Visit
from apiaries.permissions import Permission, Role
from counts.models import CountWeek
from counts.samples import Kind
from reports.bulletin_actions import months_without
from reports.figures import level_of_month, levels_of
from reports.kinds import KIND_WORDS, PER, UNITS
from reports.known_yards import STALE_DAYS, KnownYard
from reports.models import Bulletin, RegionMonth
from reports.parts import Part
from reports.publishing import published_on
from reports.region_cells import Cell
from reports.seen_yards import ABOVE, LATE, STALE, seen_rows
from reports.visit_due import DUE, due_of
from reports.visit_due import LATE as OVERDUE

MOST_TOLD = 5
"""So many of a list stand on the page; the rest are one tap away (our choice)."""


@dataclass(frozen=True, slots=True)
class ShortList:
    """The first of some yards, how many there are, and what asks the page of yards for all of them."""

    rows: Sequence[KnownYard]
    total: int
    show: str

    @property
    def more(self) -> int:
        return self.total - len(self.rows)


@dataclass(frozen=True, slots=True)
class HighRegion:
    """A region whose mean of a kind of count lies above the level with its whole range."""

    cell: Cell
    kind_words: str


@dataclass(frozen=True, slots=True)
class BulletinWaits:
    """A draft to read and issue, or the newest published month if it has no bulletin."""

    month: dt.date
    draft: Bulletin | None


@dataclass(frozen=True, slots=True)
class ClubToday:
    """What the page shows; empty or None where it is not the reader's to see or there is nothing."""

    club: Club
    regions: Sequence[Region]
    """An inspector's own, with `open_yards`."""
    inspects: bool
    writes: bool
    drafts: Sequence[BulletinWaits]
    next_published: dt.date
    high_month: dt.date
    high: Sequence[HighRegion]
    sees_yards: bool
    seen: int
    above: ShortList
    late: ShortList
    stale: ShortList
    stale_days: int
    sets_weeks: bool
    week: CountWeek | None
    week_runs: bool
    sees_members: bool
    invitations: int
    edits_club: bool
    inspectors_without: int
    lacks_regions: bool
    visits: Sequence[Visit]
    """An inspector's next planned ones."""
    follow_ups: int
    """What of earlier visits is due or late."""


def club_today(person: Person, on: dt.date, *, at: dt.datetime) -> ClubToday | None:
    """For who coordinates, inspects or administers a club and keeps no yard of their own; else None."""
    membership = person.membership
    if membership is None or not person.can(Permission.REGION_VIEW_LIVE):
        return None
    club, inspects = membership.club, person.can(Permission.YARD_VIEW_IN_REGION)
    sees_yards = inspects or person.can(Permission.SAMPLE_VIEW_SHARED)
    rows = seen_rows(person) if sees_yards else []
    regions = _inspected(membership) if inspects else []
    # The present month's figures still move with every count: the last whole one is told.
    month = (on.replace(day=1) - dt.timedelta(days=1)).replace(day=1)
    writes = person.can(Permission.BULLETIN_WRITE)
    week = _week(club, on)
    members = person.can(Permission.MEMBER_VIEW)
    edits = person.can(Permission.CLUB_EDIT)
    return ClubToday(
        club=club,
        regions=regions,
        inspects=inspects,
        writes=writes,
        drafts=_bulletins(club) if writes else [],
        next_published=_next_published(on),
        high_month=month,
        high=_high(club, regions if inspects else None, month),
        sees_yards=sees_yards,
        seen=len(rows),
        above=_short(rows, lambda row: row.is_above, ABOVE),
        late=_short(rows, lambda row: row.is_late, LATE),
        stale=_short(rows, lambda row: row.is_stale, STALE),
        stale_days=STALE_DAYS,
        sets_weeks=person.can(Permission.COUNT_WEEK_SET),
        week=week,
        week_runs=week is not None and week.first_on <= on,
        sees_members=members,
        invitations=_open_invitations(club, at) if members else 0,
        edits_club=edits,
        inspectors_without=_without_region(club) if edits else 0,
        lacks_regions=edits and not club.regions.exists(),
        visits=_visits(person) if inspects else [],
        follow_ups=sum(1 for one in due_of(person, on) if one.state in (DUE, OVERDUE)) if inspects else 0,
    )


def _visits(person: Person) -> list[Visit]:
    planned = Visit.objects.planned().inspected_by(person).filter(inspector=person)
    return list(planned.select_related("yard__keeper").order_by("planned_on", "yard__name")[:MOST_TOLD])


def _short(rows: Sequence[KnownYard], fits: Callable[[KnownYard], bool], show: str) -> ShortList:
    found = [row for row in rows if fits(row)]
    return ShortList(found[:MOST_TOLD], len(found), show)


def _inspected(membership: Membership) -> list[Region]:
    counted = Count("yards", filter=Q(yards__closed_on=None))
    return list(membership.regions.annotate(open_yards=counted).order_by("name", "pk"))


def _bulletins(club: Club) -> list[BulletinWaits]:
    drafts = Bulletin.objects.filter(club=club, issued_at=None).order_by("-month")
    waiting = [BulletinWaits(draft.month, draft) for draft in drafts[:MOST_TOLD]]
    newest = club.publications.order_by("-month").values_list("month", flat=True).first()
    if newest is not None and newest in months_without(club)[:1]:
        waiting.insert(0, BulletinWaits(newest, None))
    return waiting


def _next_published(on: dt.date) -> dt.date:
    """The day on which a month is published next."""
    this = on.replace(day=1)
    last = (this - dt.timedelta(days=1)).replace(day=1)
    due = published_on(last)
    return due if on < due else published_on(this)


def _high(club: Club, regions: Sequence[Region] | None, month: dt.date) -> list[HighRegion]:
    """As Region by month tells the month now, washes, rolls and boards apart; of some regions or of all."""
    levels = levels_of(club)
    rows = RegionMonth.objects.filter(
        region__club=club, month=month, part=Part.ALL, frozen_at=None, reason="", rate__isnull=False
    ).select_related("region")
    if regions is not None:
        rows = rows.filter(region__in=regions)
    found = []
    order = list(PER)
    for row in sorted(rows, key=lambda one: (order.index(Kind(one.kind)), one.region.name, one.pk)):
        kind = Kind(row.kind)
        level = level_of_month(levels, kind, month)
        cell = Cell(month, row.region, row, level, PER[kind], say(UNITS[kind]))
        if cell.level_rate is not None and cell.low is not None and cell.low > cell.level_rate:
            found.append(HighRegion(cell, say(KIND_WORDS[kind])))
    return found


def _week(club: Club, on: dt.date) -> CountWeek | None:
    """The one that runs, or the next to come."""
    return CountWeek.objects.standing().filter(club=club, last_on__gte=on).order_by("first_on").first()


def _open_invitations(club: Club, at: dt.datetime) -> int:
    waiting = Invitation.objects.filter(club=club, accepted_at=None, withdrawn_at=None)
    return waiting.filter(expires_at__gt=at).count()


def _without_region(club: Club) -> int:
    inspectors = club.memberships.current().filter(role=Role.INSPECTOR)
    return inspectors.filter(regions=None).count()
