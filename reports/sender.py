"""Sends the mails that are due, one per transaction, holding the lock of its row while it is sent.

Never lost: a mail is done with only when the mail server has taken it, and what is given up for good says so in its
row. Twice only if this process dies between the server's answer and the commit; both copies then have the same
Message-ID. A try is written down, and the row moved into the future, before anything is sent: a row that kills its
sender comes back later and behind the others.
"""

import datetime as dt
import logging
import secrets
import smtplib
from collections import Counter
from dataclasses import dataclass
from enum import StrEnum

from django.core.mail import EmailMultiAlternatives, get_connection
from django.db import transaction

from apiaries.models import Person
from reports.mail import digest_mail
from reports.models import Digest, DigestAttempt, DigestState, Suspension
from reports.telling import still_to_tell

logger = logging.getLogger(__name__)

WAITS = tuple(dt.timedelta(minutes=minutes) for minutes in (1, 5, 30, 120, 360))
"""Between tries (common practice; the server's own queue is not ours to fill); the last one repeats."""
JITTER = 0.5  # of a wait, either way, so that a thousand mails do not come back in the same minute
FAILED_MOST = 5  # tries of a mail that cannot even be written
DETAIL = 300


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


@dataclass(frozen=True)
class Claim:
    """A try that is written down: whose turn it is, and when it was due before it was moved on."""

    attempt: DigestAttempt
    held_until: dt.datetime
    was_due_at: dt.datetime


class Outage(Exception):
    """The mail server cannot be reached or does not know us: nobody's mail can leave."""


def send_due(*, at: dt.datetime, limit: int = 200) -> Counter[Outcome]:
    """Send what is due, at most `limit` mails; how many came to what. An outage ends the run at once."""
    tally: Counter[Outcome] = Counter()
    while tally.total() < limit and not tally[Outcome.OUTAGE]:
        claim = _claim(at)
        if claim is None:
            break
        tally[claim if isinstance(claim, Outcome) else _deliver(claim, at)] += 1
    return tally


@transaction.atomic(durable=True)
def _claim(at: dt.datetime) -> Claim | Outcome | None:
    """The next mail that is due, with its try written down; None when nothing is due."""
    due = Digest.objects.filter(state=DigestState.PENDING, next_at__lte=at, person__suspension=None)
    digest = due.select_for_update(of=("self",), skip_locked=True).order_by("next_at", "pk").first()
    if digest is None:
        return None
    if digest.useless_after <= at:
        logger.warning("mail %s of person %s given up: no use any more", digest.pk, digest.person_id)
        _close(digest, DigestState.EXPIRED)
        return Outcome.EXPIRED
    was_due_at = digest.next_at
    crashed = digest.attempts.filter(outcome="").count()
    digest.next_at = at + WAITS[min(crashed, len(WAITS) - 1)]
    digest.save(update_fields=["next_at"])
    attempt = DigestAttempt.objects.create(digest=digest, started_at=at)
    return Claim(attempt, held_until=digest.next_at, was_due_at=was_due_at)


@transaction.atomic(durable=True)
def _deliver(claim: Claim, at: dt.datetime) -> Outcome:
    """Send the claimed mail under its row's lock, and write down what came of it."""
    digests = Digest.objects.filter(
        pk=claim.attempt.digest_id, state=DigestState.PENDING, next_at=claim.held_until
    )
    digest = digests.select_for_update(of=("self",), skip_locked=True).select_related("person").first()
    if digest is None:
        return _note(claim.attempt, Outcome.TAKEN)
    told = still_to_tell(digest, at=at)
    if not told:
        _close(digest, DigestState.EMPTY)
        return _note(claim.attempt, Outcome.EMPTY)
    try:
        message = digest_mail(digest, told, at=at)
    except Exception as error:  # noqa: BLE001  (whatever is wrong with one mail must not stop the others)
        logger.exception("mail %s cannot be written", digest.pk)
        return _failed(digest, claim.attempt, repr(error), at)
    return _handed_over(digest, claim, message, at)


def _handed_over(digest: Digest, claim: Claim, message: EmailMultiAlternatives, at: dt.datetime) -> Outcome:
    """Give the message to the mail server and act on its answer."""
    try:
        _send(message)
    except Outage as error:
        # Nobody's fault: no try counted, due as before. The health page turns red by itself.
        logger.error("no mail can be sent: %s", error)
        digest.next_at = claim.was_due_at
        digest.save(update_fields=["next_at"])
        return _note(claim.attempt, Outcome.OUTAGE, str(error))
    except smtplib.SMTPRecipientsRefused as refused:
        code, text = next(iter(refused.recipients.values()))
        detail = _detail(code, text)
        if code < 500:
            return _later(digest, claim.attempt, detail, at)
        _suspend(digest.person, detail, at)
        _close(digest, DigestState.DEAD)
        return _note(claim.attempt, Outcome.REFUSED, detail)
    except smtplib.SMTPResponseException as answer:
        detail = _detail(answer.smtp_code, answer.smtp_error)
        if answer.smtp_code < 500:
            return _later(digest, claim.attempt, detail, at)
        _close(digest, DigestState.DEAD)  # this message was refused, not the address
        return _note(claim.attempt, Outcome.REFUSED, detail)
    except (smtplib.SMTPException, OSError) as broken:
        # The line broke in the middle: perhaps the server has it. Counted, so that it is not sent again and again.
        return _later(digest, claim.attempt, repr(broken), at)
    except ValueError as error:  # an address or a heading that cannot be put into a mail
        return _failed(digest, claim.attempt, repr(error), at)
    digest.state, digest.sent_at = DigestState.SENT, at
    digest.save(update_fields=["state", "sent_at"])
    return _note(claim.attempt, Outcome.SENT)


def _send(message: EmailMultiAlternatives) -> None:
    """One connection, one message; the time-out is in the settings. Raises Outage if nothing can be sent at all."""
    connection = get_connection()
    try:
        connection.open()
    except (smtplib.SMTPException, OSError) as error:
        raise Outage(repr(error)[:DETAIL]) from error
    try:
        connection.send_messages([message])
    except smtplib.SMTPSenderRefused as error:
        raise Outage(_detail(error.smtp_code, error.smtp_error)) from error
    finally:
        try:
            connection.close()
        except (smtplib.SMTPException, OSError):
            logger.info("the mail server hung up early")


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
    digest.next_at = at + wait * secrets.SystemRandom().uniform(1 - JITTER, 1 + JITTER)
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


def _detail(code: int, text: bytes | str) -> str:
    return f"{code} {text.decode(errors='replace') if isinstance(text, bytes) else text}"
