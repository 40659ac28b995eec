"""When a yard is asked for a count besides recounts, and which counts answer. Pure.

    month_call      the club's calendar: a count in every yard, in the months it names
    calendar_call   the one of these that is spoken of on a day
    week_call       a count week: the window that the club set
    again_call      the outlook's "count again by"
    answers_call    whether a count is what was asked for
    blocked_by      whether other days stand in the way: those of a recount

Every day of grace and every precedence here is our choice; `docs/reference/methods.md` says so beside each.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from dataclasses import dataclass
from enum import StrEnum

from counts.samples import JAR_KINDS, Kind

CALENDAR_GRACE_DAYS = 7
"""Days into the next month on which a month's count is still spoken of, and still answers (our choice)."""
AGAIN_AHEAD_DAYS = 7
"""An outlook's count is asked for so many days before its day (our choice)."""
AGAIN_GRACE_DAYS = 14
"""And spoken of for so many days after it (our choice)."""
AGAIN_REST_DAYS = 7
"""Nobody is asked by the outlook within so many days of the count it rests on (our choice)."""
WEEK_DAYS_MAX = 31
"""Longest count week (our choice)."""


class CallWhy(StrEnum):
    """Who or what asks, the first before the others where a yard could be asked by several (our choice)."""

    WEEK = "week"
    OUTLOOK = "outlook"
    CALENDAR = "calendar"


@dataclass(frozen=True, slots=True)
class Call:
    """The days of one call: asked from, count by, last day to speak of it; and from when on a count answers it."""

    why: CallWhy
    first_on: dt.date
    last_on: dt.date
    over_on: dt.date
    answered_from: dt.date

    def is_spoken_of(self, on: dt.date) -> bool:
        """Whether that day is one to ask on."""
        return self.first_on <= on <= self.over_on


def month_call(first: dt.date, months: Collection[int]) -> Call:
    """The calendar's call of the month that begins on `first`.

    It is over with its month where the next month asks anew.
    """
    after = _month_after(first)
    last = after - dt.timedelta(days=1)
    over = last if after.month in months else last + dt.timedelta(days=CALENDAR_GRACE_DAYS)
    return Call(CallWhy.CALENDAR, first, last, over, first)


def calendar_call(on: dt.date, months: Collection[int]) -> Call | None:
    """The calendar's call that is spoken of on a day: this month's, else for some days that of the month before."""
    this = on.replace(day=1)
    before = (this - dt.timedelta(days=1)).replace(day=1)
    for first in (this, before):
        call = month_call(first, months)
        if first.month in months and call.is_spoken_of(on):
            return call
    return None


def week_call(first_on: dt.date, last_on: dt.date) -> Call:
    """The call of a count week: its window and no day more."""
    return Call(CallWhy.WEEK, first_on, last_on, last_on, first_on)


def again_call(count_by: dt.date, sampled_on: dt.date) -> Call:
    """The call of an outlook that says to count again by a day, from the count of `sampled_on`."""
    rested = sampled_on + dt.timedelta(days=AGAIN_REST_DAYS)
    first = max(count_by - dt.timedelta(days=AGAIN_AHEAD_DAYS), rested)
    last = max(count_by, first)
    over = last + dt.timedelta(days=AGAIN_GRACE_DAYS)
    return Call(CallWhy.OUTLOOK, first, last, over, sampled_on + dt.timedelta(days=1))


def answers_call(
    call: Call,
    *,
    kind: Kind,
    sampled_on: dt.date,
    voided: bool = False,
    treatment_in_hive: bool = False,
) -> bool:
    """Whether a count of the yard is what the call asks for.

    Any wash, roll or board answers the calendar and a count week; an outlook is of mites per bee, so only a wash
    or a roll answers it. Drone brood gives no rate, and what falls under a treatment is no routine count.
    """
    if voided or treatment_in_hive or not call.answered_from <= sampled_on <= call.over_on:
        return False
    return kind in JAR_KINDS or kind is Kind.BOARD and call.why is not CallWhy.OUTLOOK


def blocked_by(call: Call, first_on: dt.date, last_on: dt.date) -> bool:
    """Whether the days of a recount, both included, touch those of the call: then the recount is asked for alone."""
    return first_on <= call.last_on and last_on >= call.first_on


def calendar_subject(yard: int, first: dt.date) -> str:
    """What the calendar's call is filed under: count:7:2026-08."""
    return f"count:{yard}:{first:%Y-%m}"


def again_subject(yard: int, count_by: dt.date) -> str:
    """What an outlook's call is filed under: again:7:2026-08-20."""
    return f"again:{yard}:{count_by.isoformat()}"


def week_subject(week: int, yard: int) -> str:
    """What a count week's call of a yard is filed under: week:3:7."""
    return f"week:{week}:{yard}"


def yard_of(subject: str) -> int | None:
    """The yard that a subject is about; None for what is no subject of a call."""
    kind, *parts = subject.split(":")
    if len(parts) != 2 or kind not in ("count", "again", "week"):
        return None
    word = parts[1] if kind == "week" else parts[0]
    return int(word) if word.isascii() and word.isdigit() and len(word) <= 18 else None


def _month_after(first: dt.date) -> dt.date:
    return (first + dt.timedelta(days=32)).replace(day=1)
