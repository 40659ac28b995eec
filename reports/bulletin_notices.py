"""That a bulletin is issued, as a line in the daily mail of every member who wants it: once each, never for it alone
on a day that had its mail."""

import datetime as dt
import logging
from collections import defaultdict
from collections.abc import Iterable

from django.db import transaction
from django.db.models import Exists, OuterRef, QuerySet

from apiaries.models import Membership, Person
from reports.due_days import local_day
from reports.models import Bulletin, Digest, Notice, NoticeKind
from reports.planner import open_digest

logger = logging.getLogger(__name__)
USEFUL_DAYS = 14
"""After so many days from its issue a bulletin is no news (our choice); it stays in the archive."""


def plan_bulletins(*, at: dt.datetime) -> int:
    """A notice for each member who has none about a bulletin of late; how many. Twice is no harm.

    A person for whom it cannot be done keeps nobody else waiting.
    """
    by_person: dict[int, list[Bulletin]] = defaultdict(list)
    for bulletin in _of_late(at).select_related("club"):
        for pk in _untold(bulletin).values_list("pk", flat=True):
            by_person[pk].append(bulletin)
    planned = 0
    for pk, bulletins in sorted(by_person.items()):
        try:
            planned += _plan(pk, bulletins, at=at)
        except Exception:  # whatever is wrong with one person's notices must not stop the others'
            logger.exception("bulletins of person %s cannot be planned", pk)
    return planned


def bulletins_to_tell(digest: Digest, *, at: dt.datetime) -> list[Bulletin]:
    """The bulletins of a planned mail that still hold; notices of the others are withdrawn now.

    Asked inside the sending transaction: one withdrawn a moment ago, somebody who left or wants no more of these.
    """
    notices = list(digest.notices.filter(withdrawn_at=None, kind=NoticeKind.BULLETIN))
    if not notices:
        return []
    keys = {_key_of(notice): notice for notice in notices}
    wanted = members().filter(person=digest.person_id, person__wants_bulletins=True).values("club")
    found = list(_of_late(at).filter(pk__in=keys, club__in=wanted).select_related("club").order_by("month"))
    over = [notice.pk for key, notice in keys.items() if key not in {one.pk for one in found}]
    Notice.objects.filter(pk__in=over).update(withdrawn_at=at)
    return found


def members() -> "QuerySet[Membership]":
    """Everybody in a club now."""
    return Membership.objects.current().filter(person__is_active=True)


def _of_late(at: dt.datetime) -> "QuerySet[Bulletin]":
    """Issued, not withdrawn, and still news."""
    since = at - dt.timedelta(days=USEFUL_DAYS)
    return Bulletin.objects.issued().filter(withdrawn_at=None, issued_at__gt=since, issued_at__lte=at)


def _untold(bulletin: Bulletin) -> "QuerySet[Person]":
    told = Notice.objects.filter(person=OuterRef("pk"), kind=NoticeKind.BULLETIN, subject=_subject(bulletin))
    of_club = members().filter(club=bulletin.club_id)
    people = Person.objects.filter(pk__in=of_club.values("person"), wants_bulletins=True, suspension=None)
    return people.exclude(pk=bulletin.issued_by_id or 0).exclude(Exists(told))


@transaction.atomic
def _plan(pk: int, bulletins: Iterable[Bulletin], *, at: dt.datetime) -> int:
    # One planner at a time, as for what is owed.
    person = Person.objects.select_for_update(no_key=True).get(pk=pk)
    news = [one for one in bulletins if one.issued_at is not None and one.issued_at <= at]
    wanted = {_subject(one): one for one in news}
    known = Notice.objects.filter(person=person, kind=NoticeKind.BULLETIN, subject__in=wanted)
    for subject in known.values_list("subject", flat=True):
        wanted.pop(subject)
    if not wanted:
        return 0
    ends = max(one.issued_at for one in wanted.values() if one.issued_at) + dt.timedelta(days=USEFUL_DAYS)
    digest = open_digest(person, at=at, useless_after=ends)
    if digest is None:
        return 0
    Notice.objects.bulk_create(
        Notice(
            person=person,
            kind=NoticeKind.BULLETIN,
            subject=subject,
            on=local_day(at, person.time_zone),
            planned_at=at,
            digest=digest,
        )
        for subject in wanted
    )
    return len(wanted)


def _subject(bulletin: Bulletin) -> str:
    return f"bulletin:{bulletin.pk}"


def _key_of(notice: Notice) -> int:
    return int(notice.subject.partition(":")[2])
