"""While the mail server is out of reach, one sender at a time asks whether it is back; the others leave it alone."""

import datetime as dt
import logging
import secrets

from django.db.models import F

from reports.digests import due_digests
from reports.models import MailOutage

logger = logging.getLogger(__name__)

WAITS = tuple(dt.timedelta(minutes=minutes) for minutes in (1, 2, 5, 10))
"""Between two tries (our choice); the last one repeats."""
LONGER = 0.3  # of a wait at most, so that many servers of one provider do not all ask at once
LONGEST = WAITS[-1] * (1 + LONGER)


def open_outage() -> MailOutage | None:
    """The outage that is going on."""
    return MailOutage.objects.filter(ended_at=None).first()


def may_try(outage: MailOutage, *, at: dt.datetime) -> bool:
    """Whether this sender is the one to try now. Its turn is written down, so that nobody else's is the same.

    A next try farther off than any wait is left from a clock that ran ahead.
    """
    if at < outage.next_try_at <= at + LONGEST or not due_digests(at).exists():
        return False
    turn = MailOutage.objects.filter(pk=outage.pk, ended_at=None, next_try_at=outage.next_try_at)
    mine = turn.update(last_tried_at=at, next_try_at=at + _wait(outage.tries), tries=F("tries") + 1)
    return mine == 1


def note_outage(*, at: dt.datetime, why: str) -> None:
    """Nothing can leave: from now on for everybody. Said in the log once, when it begins."""
    outage, began = MailOutage.objects.get_or_create(
        ended_at=None,
        defaults={
            "since": at,
            "last_tried_at": at,
            "next_try_at": at + _wait(0),
            "tries": 1,
            "last_error": why,
        },
    )
    if began:
        logger.error("no mail can be sent: %s", why)
    elif outage.last_error != why:
        MailOutage.objects.filter(pk=outage.pk).update(last_error=why)


def end_outage(*, at: dt.datetime) -> None:
    """The mail server is at work again."""
    for outage in MailOutage.objects.filter(ended_at=None):
        if MailOutage.objects.filter(pk=outage.pk, ended_at=None).update(ended_at=at):
            logger.warning("mails leave again; none could since %s", outage.since)


def _wait(tries: int) -> dt.timedelta:
    wait = WAITS[min(tries, len(WAITS) - 1)]
    return wait * secrets.SystemRandom().uniform(1, 1 + LONGER)
