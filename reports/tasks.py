"""Doorways for the schedule. They only wake: what is due, the database knows."""

import logging

from celery import shared_task
from django.utils import timezone

from apiaries.leaving_sweep import forget_due
from apiaries.notices_sender import send_account_notices
from reports.bulletin_actions import draft_due
from reports.bulletin_notices import plan_bulletins
from reports.figures import recompute_all, refresh_all_marked
from reports.pausing import open_pause
from reports.planner import found_paused, plan_notices
from reports.publishing import publish_due
from reports.sender import send_due
from reports.sweep import sweep
from reports.visit_notices import plan_visit_notices
from treatments.locking import let_go
from treatments.yard_outlooks import BEFORE_MAILS, recompute_outlooks, refresh_all_outlooks

logger = logging.getLogger(__name__)
PORTION = 100  # mails between two looks at the clock


@shared_task
def wake_notices() -> None:
    """Plan what is owed and send what is due; neither while sending is paused."""
    refresh_all_outlooks(at=timezone.now(), most=BEFORE_MAILS)
    if open_pause() is not None:
        found_paused(at=timezone.now())
        return
    plan_notices(at=timezone.now())
    plan_bulletins(at=timezone.now())
    plan_visit_notices(at=timezone.now())
    wake_mails()


@shared_task
def wake_mails() -> None:
    """Send what is due: on its minute, and again when a server that put it off said so."""
    while send_due(at=timezone.now(), limit=PORTION).total() >= PORTION:
        pass


@shared_task
def wake_account_notices() -> None:
    """Send the mails about changes of accounts; not while sending is paused: restored data may have sent them."""
    if open_pause() is None:
        send_account_notices(at=timezone.now())


@shared_task
def wake_region_figures() -> None:
    """Work out the marked regions and months, publish what is due, and draft the bulletin of what was published."""
    refresh_all_marked(at=timezone.now())
    publish_due(at=timezone.now())
    draft_due(at=timezone.now())


@shared_task
def wake_leavings() -> None:
    """Forget those whose days are over, and let go the records that were kept until now."""
    forget_due(at=timezone.now())
    let_go(at=timezone.now())


@shared_task
def wake_sweep() -> None:
    """Clear away what is over."""
    sweep(at=timezone.now())


@shared_task
def recompute_all_region_figures() -> None:
    """Once a day: work out everything, and name what had drifted."""
    for outlook in recompute_outlooks(at=timezone.now()):
        logger.error("day to count again by disagreed with the counts, put right: %s", outlook.what)
    for drift in recompute_all(at=timezone.now()):
        logger.error("figures disagreed with the counts, put right: %s", drift.what)
