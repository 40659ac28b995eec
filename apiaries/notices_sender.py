"""Sends the mails about changes of accounts, one per transaction, holding the lock of its row while it is sent.

As with the daily mails: a try is written down and the row moved into the future before anything is sent, so that a
row which kills its sender comes back later; an outage of the mail server costs no try; a doubled copy, after a crash
between the server's answer and the commit, has the same Message-ID; what is given up says so in its row and in the log.
"""

import datetime as dt
import logging
from dataclasses import dataclass

from django.core.mail import EmailMultiAlternatives
from django.db import transaction

from apiaries.line import DETAIL, Broken, Line, Outage, Refused
from apiaries.models import AccountNotice

logger = logging.getLogger(__name__)

WAITS = tuple(dt.timedelta(minutes=minutes) for minutes in (1, 5, 30, 120, 360))
"""Between tries (common practice, no source); the last one repeats."""


@dataclass(frozen=True)
class _Turn:
    """Whose turn it is, when it was due, and until when it is held for this try."""

    pk: int
    was_due_at: dt.datetime
    held_until: dt.datetime


def send_account_notices(*, at: dt.datetime, limit: int = 200) -> int:
    """Send what is due, at most `limit` mails; how many left. An outage ends the run at once."""
    sent = 0
    with Line() as line:
        for _ in range(limit):
            turn = _claim(at)
            if turn is None:
                break
            try:
                sent += _deliver(turn, line, at)
            except Outage as error:
                logger.warning("mails about accounts wait: %s", error)
                break
    return sent


@transaction.atomic(durable=True)
def _claim(at: dt.datetime) -> _Turn | None:
    """The next one that nobody else holds, with its try written down; None if none is due."""
    for notice in AccountNotice.objects.due(at).select_for_update(skip_locked=True).order_by("next_at", "pk"):
        if notice.useless_after <= at:
            _give_up(notice, at, notice.why_not or "too late")
            continue
        was_due_at = notice.next_at
        notice.next_at = at + WAITS[min(notice.tries, len(WAITS) - 1)]
        notice.tries += 1
        notice.save(update_fields=["next_at", "tries"])
        return _Turn(notice.pk, was_due_at, notice.next_at)
    return None


def _deliver(turn: _Turn, line: Line, at: dt.datetime) -> bool:
    """Send the claimed one; whether it left. Errors: Outage, with the row as it was before."""
    with transaction.atomic(durable=True):
        notice = AccountNotice.objects.waiting().select_for_update().filter(pk=turn.pk).first()
        if notice is None or notice.next_at != turn.held_until:
            return False
        try:
            line.hand_over(_message_of(notice))
        except Outage as error:
            outage = error
            notice.next_at, notice.tries = turn.was_due_at, notice.tries - 1
            notice.save(update_fields=["next_at", "tries"])
        except Refused as answer:
            if answer.for_now:
                return _not_now(notice, str(answer))
            return _give_up(notice, at, str(answer))
        except (
            Broken,
            ValueError,
        ) as error:  # perhaps the server has it; or no address that can be written to
            return _not_now(notice, repr(error))
        else:
            notice.sent_at, notice.text, notice.html = at, "", ""
            notice.save(update_fields=["sent_at", "text", "html"])
            return True
    raise outage


def _not_now(notice: AccountNotice, why: str) -> bool:
    notice.why_not = why[:DETAIL]
    notice.save(update_fields=["why_not"])
    return False


def _give_up(notice: AccountNotice, at: dt.datetime, why: str) -> bool:
    logger.error("mail %s about the account of person %s given up: %s", notice.pk, notice.person_id, why)
    notice.given_up_at, notice.why_not, notice.text, notice.html = at, why[:DETAIL], "", ""
    notice.save(update_fields=["given_up_at", "why_not", "text", "html"])
    return False


def _message_of(notice: AccountNotice) -> EmailMultiAlternatives:
    message = EmailMultiAlternatives(
        subject=notice.subject,
        body=notice.text,
        to=[notice.to],
        headers={"Message-ID": notice.message_id, "Auto-Submitted": "auto-generated"},
    )
    message.attach_alternative(notice.html, "text/html")
    return message
