"""How the mails of this server stand, for whoever runs it: no count, no place, no name of a yard."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from apiaries.language import mark, say
from apiaries.zones import zone_of
from reports.again import AGAIN, ASKED_FOR_BY, CONSOLE
from reports.circuit import open_outage
from reports.digests import due_digests
from reports.health import oldest_due
from reports.models import Digest, DigestAttempt, DigestState, MailOutage, NoticeKind, Suspension

LISTED_DAYS = 90
OUTCOME_WORDS = {
    "": mark("broke off: the sender was ended in the middle of it"),
    "sent": mark("sent"),
    "empty": mark("nothing was left to say"),
    "expired": mark("of no use any more"),
    "refused": mark("refused for good"),
    "later": mark("put off by the mail server"),
    "outage": mark("the mail server was out of reach"),
    "failed": mark("could not be written"),
    "taken": mark("left to another sender"),
    "quiet": mark("waited for the person's hours"),
    "again": mark("to be sent again"),
}


@dataclass(frozen=True)
class Numbers:
    """How many mails wait, are late, and left."""

    waiting: int
    due: int
    sent_today: int
    oldest: dt.datetime | None
    """Since when the oldest mail has been due."""


@dataclass(frozen=True)
class Try:
    """One try to send a mail."""

    at: dt.datetime
    outcome: str
    words: str
    detail: str


@dataclass(frozen=True)
class GivenUp:
    """A mail that was not delivered, and why."""

    pk: int
    email: str
    on: dt.date
    kinds: list[str]
    why: str
    tries: list[Try]
    may_go_again: bool
    suspended: bool
    useless_after: dt.datetime


def numbers(*, at: dt.datetime) -> Numbers:
    """The whole server's."""
    waiting = Digest.objects.filter(state=DigestState.PENDING, person__suspension=None)
    sent = Digest.objects.filter(state=DigestState.SENT, sent_at__gt=at - dt.timedelta(days=1))
    return Numbers(waiting.count(), due_digests(at).count(), sent.count(), oldest_due(at=at))


def outages(*, at: dt.datetime) -> tuple[MailOutage | None, list[MailOutage]]:
    """The one that goes on, and those that ended lately, the newest first."""
    ended = MailOutage.objects.filter(ended_at__gt=at - dt.timedelta(days=LISTED_DAYS))
    return open_outage(), list(ended)


def given_up_mails(*, at: dt.datetime) -> "QuerySet[Digest]":
    """Those of the last 90 days, the newest first; with what `given_up` needs."""
    since = (at - dt.timedelta(days=LISTED_DAYS)).date()
    given_up = Digest.objects.filter(state__in=[DigestState.DEAD, DigestState.EXPIRED], on__gte=since)
    related = given_up.select_related("person", "person__suspension").prefetch_related("attempts", "notices")
    return related.order_by("-on", "-pk")


def given_up(digest: Digest, *, at: dt.datetime, zone: str) -> GivenUp:
    """One of them, with times on the reader's clock."""
    clock = zone_of(zone)
    tries = [_try(attempt, clock) for attempt in digest.attempts.all()]
    kinds = {notice.kind for notice in digest.notices.all()}
    may = digest.state == DigestState.DEAD and digest.useless_after > at
    return GivenUp(
        pk=digest.pk,
        email=digest.person.email,
        on=digest.on,
        kinds=[str(NoticeKind(kind).label) for kind in NoticeKind.values if kind in kinds],
        why=_why(digest, tries),
        tries=tries,
        may_go_again=may,
        suspended=hasattr(digest.person, "suspension"),
        useless_after=digest.useless_after.astimezone(clock),
    )


def _why(digest: Digest, tries: Sequence[Try]) -> str:
    if digest.state == DigestState.EXPIRED:
        return say("could not leave before what it tells was of no use")
    last = next((one for one in reversed(tries) if one.outcome != AGAIN), None)
    if last is None:
        return say("unknown: no try was written down")
    return f"{last.words}: {last.detail}" if last.detail else last.words


def _try(attempt: DigestAttempt, clock: ZoneInfo) -> Try:
    """Of a mail that could not be written only the kind of mistake is told: the rest may quote what is in it."""
    detail = attempt.detail.partition("(")[0] if attempt.outcome == "failed" else attempt.detail
    if attempt.outcome == AGAIN and detail.startswith(ASKED_FOR_BY):
        who = detail.removeprefix(ASKED_FOR_BY)
        detail = say("asked for by {who}", who=say(CONSOLE) if who == CONSOLE else who)
    words = say(OUTCOME_WORDS.get(attempt.outcome, attempt.outcome))
    return Try(attempt.started_at.astimezone(clock), attempt.outcome, words, detail)


def suspended_addresses() -> "QuerySet[Suspension]":
    """Those to which nothing is sent, the newest first."""
    return Suspension.objects.select_related("person").order_by("-since", "pk")
