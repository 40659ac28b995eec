"""Which notice a recount owes on a day, and which instant a wall clock means. Pure."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum
from zoneinfo import ZoneInfo

from treatments.constants import DEFAULTS
from treatments.recount_rules import Window

SOON_DAYS = 3
"""A recount is announced so many days before its ideal day (common practice, no source)."""


class Stage(StrEnum):
    """Where a recount that is not done stands, as far as mails go."""

    SOON = "recount_soon"
    DUE = "recount_due"
    LATE = "recount_late"


@dataclass(frozen=True, slots=True)
class DueNotice:
    """A notice that is owed: which one, the day it belongs to, and the last day on which it is of use."""

    stage: Stage
    on: dt.date
    last_useful_on: dt.date


def due_notice(window: Window, *, recorded_on: dt.date, today: dt.date) -> DueNotice | None:
    """The one notice that a recount not yet done owes today; None while there is nothing to say.

    Only the newest of them: after a standstill nobody hears three times about one recount. Nothing is owed for a
    treatment that was written down when its recount was late already: the page said so. The day of a notice comes
    from the facts alone, so that planning it again makes no second one.
    """
    if recorded_on > window.latest_on:
        return None
    late_on = window.latest_on + dt.timedelta(days=1)
    if today >= late_on:
        last = window.latest_on + dt.timedelta(days=int(DEFAULTS.after_count_late_days.value))
        return DueNotice(Stage.LATE, late_on, last)
    if today >= window.ideal_on:
        return DueNotice(Stage.DUE, max(window.ideal_on, recorded_on), window.latest_on)
    soon_on = max(window.ideal_on - dt.timedelta(days=SOON_DAYS), window.earliest_on)
    if today >= soon_on:
        return DueNotice(Stage.SOON, max(soon_on, recorded_on), window.ideal_on)
    return None


def instant_of(on: dt.date, at: dt.time, zone: str) -> dt.datetime:
    """The instant, in UTC, of a wall clock reading in a zone.

    A reading that the clocks jump over means the first one after the jump; one that they show twice, the first.
    """
    local = dt.datetime.combine(on, at.replace(fold=0), tzinfo=ZoneInfo(zone))
    instant = local.astimezone(dt.UTC)
    if instant.astimezone(local.tzinfo).replace(tzinfo=None) == local.replace(tzinfo=None):
        return instant
    before, after = local.replace(fold=1).astimezone(dt.UTC), instant
    jumped = after.astimezone(local.tzinfo).utcoffset()
    while after - before > dt.timedelta(minutes=1):  # the jump lies between: halve until the minute is found
        middle = before + (after - before) // 2
        middle = middle.replace(second=0, microsecond=0)
        if middle.astimezone(local.tzinfo).utcoffset() == jumped:
            after = middle
        else:
            before = middle
    return after


def local_day(at: dt.datetime, zone: str) -> dt.date:
    """The calendar day in a zone at that instant."""
    return at.astimezone(ZoneInfo(zone)).date()


def end_of_day(on: dt.date, zone: str) -> dt.datetime:
    """The instant at which a day is over in a zone."""
    return instant_of(on + dt.timedelta(days=1), dt.time.min, zone)
