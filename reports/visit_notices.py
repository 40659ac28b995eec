"""That a visit is planned, or that its report is there, as a line in the keeper's daily mail: once each.

No figure, no finding and no place stands in the mail: the keeper reads them after signing in.
"""

import datetime as dt
import logging
from collections import defaultdict
from dataclasses import dataclass

from django.conf import settings
from django.db import transaction
from django.db.models import Exists, OuterRef, QuerySet
from django.urls import reverse

from apiaries.language import mark, say, weekday_day_words
from apiaries.models import Club, Membership, Person, Visit
from reports.due_days import end_of_day, local_day
from reports.models import Digest, Notice, NoticeKind
from reports.planner import open_digest

logger = logging.getLogger(__name__)
USEFUL_DAYS = 14
"""After so many days a report is no news (our choice); it stays on the yard's page."""
KINDS = (NoticeKind.VISIT_PLANNED, NoticeKind.VISIT_REPORT)
WORDS = {
    NoticeKind.VISIT_PLANNED: mark("An inspector’s visit to {yard} is planned for {day}"),
    NoticeKind.VISIT_REPORT: mark("The report of the visit to {yard} on {day} is there"),
}


@dataclass(frozen=True, slots=True)
class VisitNews:
    """One line of the mail."""

    club: Club
    words: str
    url: str


def plan_visit_notices(*, at: dt.datetime) -> int:
    """A notice for each keeper who was not told of a visit yet; how many. Twice is no harm.

    A person for whom it cannot be done keeps nobody else waiting.
    """
    by_person: dict[int, list[tuple[NoticeKind, Visit]]] = defaultdict(list)
    for kind in KINDS:
        for visit in _untold(kind, at):
            by_person[visit.yard.keeper_id].append((kind, visit))
    planned = 0
    for pk, news in sorted(by_person.items()):
        try:
            planned += _plan(pk, news, at=at)
        except Exception:  # whatever is wrong with one person's notices must not stop the others'
            logger.exception("visits of person %s cannot be told", pk)
    return planned


def visits_to_tell(digest: Digest, *, at: dt.datetime) -> list[VisitNews]:
    """The lines of a planned mail that still hold, in the language that is spoken; the others are withdrawn now.

    Asked inside the sending transaction: a visit cancelled, made or voided a moment ago, somebody who wants no mail.
    """
    told, over = [], []
    for notice in digest.notices.filter(withdrawn_at=None, kind__in=KINDS).order_by("pk"):
        kind = NoticeKind(notice.kind)
        visit = _news(kind, at).filter(pk=_key_of(notice), yard__keeper=digest.person_id).first()
        if visit is None:
            over.append(notice.pk)
        else:
            told.append(_line(kind, visit))
    if over:
        Notice.objects.filter(pk__in=over).update(withdrawn_at=at)
    return told


def _line(kind: NoticeKind, visit: Visit) -> VisitNews:
    words = say(WORDS[kind], yard=visit.yard.name, day=weekday_day_words(visit.on))
    url = settings.SITE_URL + reverse("reports:visit-detail", args=[visit.pk])
    return VisitNews(visit.yard.club, words, url)


def _news(kind: NoticeKind, at: dt.datetime) -> "QuerySet[Visit]":
    """What keepers are to hear of now: announced visits of today or to come, reports of late."""
    member = Membership.objects.current().filter(person=OuterRef("yard__keeper"), club=OuterRef("club"))
    visits = Visit.objects.filter(Exists(member), yard__keeper__is_active=True, yard__keeper__wants_mail=True)
    visits = visits.select_related("yard__club", "yard__keeper")
    if kind is NoticeKind.VISIT_PLANNED:
        earliest = (at - dt.timedelta(hours=12)).date()  # no yard is further behind UTC
        return visits.planned().filter(announced=True, planned_on__gte=earliest)
    since = at - dt.timedelta(days=USEFUL_DAYS)
    return visits.made().filter(recorded_at__gt=since, recorded_at__lte=at)


def _untold(kind: NoticeKind, at: dt.datetime) -> list[Visit]:
    visits = list(_news(kind, at).filter(yard__keeper__suspension=None))
    told = Notice.objects.filter(kind=kind, subject__in=[_subject(one) for one in visits])
    known = set(told.values_list("person_id", "subject"))
    return [one for one in visits if (one.yard.keeper_id, _subject(one)) not in known]


@transaction.atomic
def _plan(pk: int, news: list[tuple[NoticeKind, Visit]], *, at: dt.datetime) -> int:
    # One planner at a time, as for what is owed.
    person = Person.objects.select_for_update(no_key=True).get(pk=pk)
    subjects = [_subject(visit) for _, visit in news]
    rows = Notice.objects.filter(person=person, kind__in=KINDS, subject__in=subjects)
    known = set(rows.values_list("kind", "subject"))
    fresh = [(kind, visit) for kind, visit in news if (kind.value, _subject(visit)) not in known]
    if not fresh:
        return 0
    ends = max(_useless_after(kind, visit, person, at) for kind, visit in fresh)
    digest = open_digest(person, at=at, useless_after=ends)
    if digest is None:
        return 0
    Notice.objects.bulk_create(
        Notice(
            person=person,
            kind=kind,
            subject=_subject(visit),
            on=local_day(at, person.time_zone),
            planned_at=at,
            digest=digest,
        )
        for kind, visit in fresh
    )
    return len(fresh)


def _useless_after(kind: NoticeKind, visit: Visit, person: Person, at: dt.datetime) -> dt.datetime:
    if kind is NoticeKind.VISIT_PLANNED:
        return end_of_day(visit.on, person.time_zone)
    return (visit.recorded_at or at) + dt.timedelta(days=USEFUL_DAYS)


def _subject(visit: Visit) -> str:
    return f"visit:{visit.pk}"


def _key_of(notice: Notice) -> int:
    return int(notice.subject.partition(":")[2])
