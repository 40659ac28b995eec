"""What whoever runs the server watches, counted afresh: mails, sheets, marks, backups. Nothing of any club."""

import datetime as dt
from dataclasses import dataclass

from django.db.models import Count, F, Min, OuterRef, Subquery
from django.db.models.functions import Coalesce

from apiaries.models import AccountNotice
from counts.models import ImportBatch, ImportState
from reports.again import AGAIN
from reports.backups import failed_since, last_backup
from reports.digests import due_digests
from reports.health import oldest_due
from reports.models import (
    BackupRun,
    Digest,
    DigestAttempt,
    DigestState,
    MailOutage,
    RegionMonthMark,
    SendingPause,
    Suspension,
)
from reports.pausing import open_pause

LATE = dt.timedelta(minutes=15)
GIVEN_UP_DAYS = 90
REASONS = ("refused", "failed", "expired", "other")
"""Why a mail was given up: for good by a mail server; it could not be written; too late to be of use."""


@dataclass(frozen=True)
class Outbox:
    """How the mails stand, those about changes of accounts among them."""

    waiting: int
    due: int
    late: int
    given_up: dict[str, int]
    """By reason, of the last 90 days."""
    suspended: int
    oldest: dt.datetime | None
    outage: bool
    paused: SendingPause | None


@dataclass(frozen=True)
class Backlog:
    """What waits for a worker, beside mails."""

    sheets: int
    oldest_sheet: dt.datetime | None
    marks: int
    oldest_mark: dt.datetime | None


def outbox(*, at: dt.datetime) -> Outbox:
    waiting = Digest.objects.filter(state=DigestState.PENDING, person__suspension=None)
    due = due_digests(at)
    of_accounts = AccountNotice.objects.due(at)
    return Outbox(
        waiting=waiting.count() + AccountNotice.objects.waiting().count(),
        due=due.count() + of_accounts.count(),
        late=due.filter(next_at__lt=at - LATE).count() + of_accounts.filter(next_at__lt=at - LATE).count(),
        given_up=_given_up(at),
        suspended=Suspension.objects.count(),
        oldest=oldest_due(at=at),
        outage=MailOutage.objects.filter(ended_at=None).exists(),
        paused=open_pause(),
    )


def _given_up(at: dt.datetime) -> dict[str, int]:
    given = Digest.objects.filter(on__gte=(at - dt.timedelta(days=GIVEN_UP_DAYS)).date()).order_by()
    tries = DigestAttempt.objects.filter(digest=OuterRef("pk")).exclude(outcome=AGAIN)
    last = Subquery(tries.order_by("-started_at", "-pk").values("outcome")[:1])
    dead = (
        given.filter(state=DigestState.DEAD).values(why=Coalesce(last, "state")).annotate(number=Count("pk"))
    )
    found = dict.fromkeys(REASONS, 0)
    for row in dead:
        found[row["why"] if row["why"] in ("refused", "failed") else "other"] += row["number"]
    of_accounts = AccountNotice.objects.filter(
        given_up_at__gte=at - dt.timedelta(days=GIVEN_UP_DAYS)
    ).order_by()
    too_late = of_accounts.filter(given_up_at__gte=F("useless_after")).count()
    found["refused"] += of_accounts.count() - too_late
    found["expired"] = given.filter(state=DigestState.EXPIRED).count() + too_late
    return found


def backlog() -> Backlog:
    open_sheets = ImportBatch.objects.filter(state__in=[ImportState.READING, ImportState.BRINGING])
    sheets = open_sheets.aggregate(number=Count("pk"), oldest=Min("at"))
    marks = RegionMonthMark.objects.aggregate(number=Count("pk"), oldest=Min("marked_at"))
    return Backlog(sheets["number"], sheets["oldest"], marks["number"], marks["oldest"])


def backups() -> tuple[BackupRun | None, BackupRun | None]:
    """The last good one, and the last try that failed after it."""
    kept = last_backup()
    return kept, failed_since(kept)
