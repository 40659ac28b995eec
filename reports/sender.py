"""Sends the mails that are due, one per transaction, holding the lock of its row while it is sent.

Never lost: a mail is done with only when the mail server has taken it, and what is given up for good says so in its
row. Twice only if this process dies between the server's answer and the commit; both copies then have the same
Message-ID. A try is written down, and the row moved into the future, before anything is sent: a row that kills its
sender comes back later and behind the others.
"""

import datetime as dt
import logging
import secrets
from collections import Counter
from dataclasses import dataclass
from enum import StrEnum

from django.core.mail import EmailMultiAlternatives
from django.db import transaction
from django.db.models import Q
from django.utils.translation import override

from apiaries.line import DETAIL, Broken, Line, Outage, Refused
from apiaries.models import Person
from reports.bulletin_notices import bulletins_to_tell
from reports.circuit import end_outage, may_try, note_outage, open_outage
from reports.digests import next_try, opening_for
from reports.due_days import end_of_day, local_day
from reports.mail import digest_mail
from reports.mail_queue import Queue
from reports.models import Digest, DigestAttempt, DigestState, Suspension
from reports.pausing import open_pause
from reports.telling import still_to_tell
from reports.visit_notices import visits_to_tell

logger = logging.getLogger(__name__)

WAITS = tuple(dt.timedelta(minutes=minutes) for minutes in (1, 5, 30, 120, 360))
"""Between tries (common practice; the server's own queue is not ours to fill); the last one repeats."""
JITTER = 0.5  # of a wait, either way, so that a thousand mails do not come back in the same minute
FAILED_MOST = 5  # tries of a mail that cannot even be written
BROKEN_MOST = 3  # lines that break one after the other: then it is the server and not the mail (our choice)


class Outcome(StrEnum):
    """What became of one try. The first four close the matter."""

    SENT = "sent"
    EMPTY = "empty"
    EXPIRED = "expired"
    REFUSED = "refused"
    LATER = "later"
    OUTAGE = "outage"
    FAILED = "failed"
    TAKEN = "taken"
    QUIET = "quiet"
    """It waits for the person's hours or next day; nothing was tried."""


@dataclass(frozen=True)
class Claim:
    """A try that is written down: whose turn it is, and when it was due before it was moved on."""

    attempt: DigestAttempt
    person_pk: int
    held_until: dt.datetime
    was_due_at: dt.datetime


def send_due(*, at: dt.datetime, limit: int = 200) -> Counter[Outcome]:
    """Send what is due, at most `limit` mails; how many came to what. An outage ends the run at once.

    While an outage goes on, nothing is touched but for one mail now and then, with which one sender asks. While sending
    is paused, nothing at all.
    """
    tally: Counter[Outcome] = Counter()
    if open_pause() is not None:
        return tally
    outage = open_outage()
    if outage is not None and not may_try(outage, at=at):
        return tally
    queue = Queue(at)
    with Line() as line:
        while tally.total() < limit:
            outcome = _next(line, queue)
            if outcome is None:
                break
            tally[outcome] += 1
            if line.broken >= (BROKEN_MOST if outage is None else 1) or outcome is Outcome.OUTAGE:
                note_outage(at=at, why=line.trouble)
                break
            if outage is not None and line.answered:
                end_outage(at=at)
                outage = None
    return tally


def _next(line: Line, queue: Queue) -> Outcome | None:
    """One mail; None when nothing is due."""
    claim = _claim(queue)
    return _deliver(claim, line, queue.at) if isinstance(claim, Claim) else claim


@transaction.atomic(durable=True)
def _claim(queue: Queue) -> Claim | Outcome | None:
    """The next mail that is due, with its try written down; None when nothing is due."""
    digest, at = queue.next(), queue.at
    if digest is None:
        return None
    if digest.useless_after <= at:
        logger.warning("mail %s of person %s given up: no use any more", digest.pk, digest.person_id)
        _close(digest, DigestState.EXPIRED)
        return Outcome.EXPIRED
    if opening_for(digest.person, at) > at:
        _move(digest, next_try(digest, at))
        return Outcome.QUIET
    was_due_at = digest.next_at
    _move(digest, at + WAITS[min(digest.crashed, len(WAITS) - 1)])
    attempt = DigestAttempt.objects.create(digest=digest, started_at=at)
    return Claim(attempt, digest.person_id, held_until=digest.next_at, was_due_at=was_due_at)


@transaction.atomic(durable=True)
def _deliver(claim: Claim, line: Line, at: dt.datetime) -> Outcome:
    """Send the claimed mail under its row's lock, and write down what came of it."""
    mails = _mails_of(claim.person_pk, at)
    digest = next((one for one in mails if one.pk == claim.attempt.digest_id), None)
    if digest is None or digest.state != DigestState.PENDING or digest.next_at != claim.held_until:
        return _note(claim.attempt, Outcome.TAKEN)
    zone = digest.person.time_zone
    today = local_day(at, zone)
    if any(one.sent_at is not None and local_day(one.sent_at, zone) == today for one in mails):
        _move(digest, next_try(digest, end_of_day(today, zone)))
        return _note(claim.attempt, Outcome.QUIET)
    try:
        with transaction.atomic(), override(digest.person.language):  # an error leaves this one usable
            told = still_to_tell(digest, at=at)  # what is to be told is put into words here already
            bulletins = bulletins_to_tell(digest, at=at)
            visits = visits_to_tell(digest, at=at)
            anything = told or bulletins or visits
            message = (
                digest_mail(digest, told, at=at, bulletins=bulletins, visits=visits) if anything else None
            )
    except Exception as error:  # noqa: BLE001  (whatever is wrong with one mail must not stop the others)
        logger.exception("mail %s cannot be written", digest.pk)
        return _failed(digest, claim.attempt, repr(error), at)
    if message is None:
        _close(digest, DigestState.EMPTY)
        return _note(claim.attempt, Outcome.EMPTY)
    return _handed_over(digest, claim, message, line, at)


def _mails_of(person_pk: int, at: dt.datetime) -> list[Digest]:
    """The person's mails that wait or left of late, all locked: two, one sent again, do not leave on one day."""
    near = Q(state=DigestState.PENDING) | Q(sent_at__gt=at - dt.timedelta(days=2))
    mails = Digest.objects.filter(near, person=person_pk)
    return list(mails.select_for_update(of=("self",)).select_related("person").order_by("pk"))


def _handed_over(
    digest: Digest, claim: Claim, message: EmailMultiAlternatives, line: Line, at: dt.datetime
) -> Outcome:
    """Give the message to the mail server and act on its answer."""
    try:
        line.hand_over(message)
    except Outage as error:
        # Nobody's fault: no try counted, due as before. The health page turns red by itself.
        _move(digest, claim.was_due_at)
        return _note(claim.attempt, Outcome.OUTAGE, str(error))
    except Refused as answer:
        if answer.for_now:
            return _later(digest, claim.attempt, str(answer), at)
        if answer.address:
            _suspend(digest.person, str(answer), at)
        _close(digest, DigestState.DEAD)
        return _note(claim.attempt, Outcome.REFUSED, str(answer))
    except Broken as broken:
        # Perhaps the server has it. Counted, so that it is not sent again and again.
        return _later(digest, claim.attempt, str(broken), at)
    except ValueError as error:  # an address or a heading that cannot be put into a mail
        return _failed(digest, claim.attempt, repr(error), at)
    digest.state, digest.sent_at = DigestState.SENT, at
    digest.save(update_fields=["state", "sent_at"])
    return _note(claim.attempt, Outcome.SENT)


def _later(digest: Digest, attempt: DigestAttempt, detail: str, at: dt.datetime) -> Outcome:
    """Try again after a while, longer each time, until it is of no use."""
    tried = digest.attempts.filter(outcome=Outcome.LATER).count()
    _postpone(digest, tried, at)
    return _note(attempt, Outcome.LATER, detail)


def _failed(digest: Digest, attempt: DigestAttempt, detail: str, at: dt.datetime) -> Outcome:
    tried = digest.attempts.filter(outcome=Outcome.FAILED).count()
    if tried + 1 >= FAILED_MOST:
        _close(digest, DigestState.DEAD)
    else:
        _postpone(digest, tried, at)
    return _note(attempt, Outcome.FAILED, detail)


def _postpone(digest: Digest, tried: int, at: dt.datetime) -> None:
    wait = WAITS[min(tried, len(WAITS) - 1)]
    _move(digest, next_try(digest, at + wait * secrets.SystemRandom().uniform(1 - JITTER, 1 + JITTER)))


def _move(digest: Digest, to: dt.datetime) -> None:
    digest.next_at = to
    digest.save(update_fields=["next_at"])


def _close(digest: Digest, state: DigestState) -> None:
    digest.state = state
    digest.save(update_fields=["state"])


def _note(attempt: DigestAttempt, outcome: Outcome, detail: str = "") -> Outcome:
    attempt.outcome, attempt.detail = outcome, " ".join(detail.split())[:DETAIL]
    attempt.save(update_fields=["outcome", "detail"])
    return outcome


def _suspend(person: Person, why: str, at: dt.datetime) -> None:
    Suspension.objects.update_or_create(
        person=person, defaults={"email": person.email, "why": why[:DETAIL], "since": at}
    )
