"""Clears away what is over, of all apps: from the schedule or from cron, as often and as many at once as one likes."""

import datetime as dt
import logging

from django.db import DatabaseError, transaction

from apiaries import sweeping as of_people
from apiaries.sweeping import Sweep
from counts import sweeping as of_counts
from reports import sweeping as of_reports

logger = logging.getLogger(__name__)
PORTION = 500
MOST_PORTIONS = 200  # of one kind in one run; the next run goes on

ALL: tuple[Sweep, ...] = (*of_people.SWEEPS, *of_counts.SWEEPS, *of_reports.SWEEPS)
BY_THEMSELVES = frozenset({"sheets", "people", "locked-records"})  # their actions hold their own transactions


def sweep(*, at: dt.datetime) -> dict[str, int | None]:
    """How many of each kind went; None where the database refused, which is logged and stops no other kind."""
    return {one.name: _all_of(one, at) for one in ALL}


def _all_of(one: Sweep, at: dt.datetime) -> int | None:
    gone = 0
    try:
        for _ in range(MOST_PORTIONS):
            if one.name in BY_THEMSELVES:
                done = one.portion(at, PORTION)
            else:
                with transaction.atomic():
                    done = one.portion(at, PORTION)
            gone += done
            if done < PORTION:
                break
    except DatabaseError:
        logger.exception("sweep of %s stopped after %s", one.name, gone)
        return None
    if gone:
        logger.info("sweep of %s: %s gone", one.name, gone)
    return gone
