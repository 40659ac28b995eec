"""A pause of all reminders: restored data is old, and what it says is due may have been sent already."""

import datetime as dt

from django.db import transaction

from reports.bulletin_notices import plan_bulletins
from reports.models import Digest, DigestState, SendingPause
from reports.planner import plan_notices
from reports.visit_notices import plan_visit_notices


def open_pause() -> SendingPause | None:
    """The pause that goes on; None while mails may leave."""
    return SendingPause.objects.filter(ended_at=None).first()


def paused_words(pause: SendingPause) -> str:
    """For a console."""
    return (
        f"Sending is paused since {pause.since:%Y-%m-%d %H:%M} UTC: {pause.why}"
        " Nothing is planned or sent until you say manage.py resume_sending."
    )


def pause_sending(*, at: dt.datetime, why: str) -> SendingPause:
    """From now on no reminder is planned or sent, by any process."""
    return SendingPause.objects.create(since=at, why=why)


def resume_sending(*, at: dt.datetime, drop_due: bool) -> int:
    """End the pause; how many mails are due by now, or were dropped.

    `drop_due`: what was owed up to now is planned and then closed as too late, so that it is never sent; for data
    older than what was sent since.
    """
    if drop_due:
        plan_notices(at=at)
        plan_bulletins(at=at)
        plan_visit_notices(at=at)
    with transaction.atomic():
        due = Digest.objects.filter(state=DigestState.PENDING, send_at__lte=at)
        number = due.update(state=DigestState.EXPIRED) if drop_due else due.count()
        SendingPause.objects.filter(ended_at=None).update(ended_at=at)
    return number
