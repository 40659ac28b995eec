"""Which notice of a thing to do is owed on a day, and which instant a wall clock means. Pure."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from apiaries.zones import zone_of
from treatments.constants import DEFAULTS
from treatments.recount_rules import Window
from treatments.status import days_after

SOON_DAYS = 3
"""A recount, and what is to be taken out, is announced so many days before (common practice, no source)."""
ROUND_SOON_DAYS = 1
ROUND_LATE_DAYS = 2
"""A round waits for weather: it is announced the day before, and late from the second day on (our choice)."""
ROUND_USEFUL_DAYS = 14
OUT_USEFUL_DAYS = 60
CLEAR_USEFUL_DAYS = 3
WEEK_ENDING_DAYS = 1
"""A count week is told of when it begins and once more so many days before its last one (our choice)."""


class Stage(StrEnum):
    """Where a thing that is not done stands, as far as mails go."""

    SOON = "soon"
    DUE = "due"
    LATE = "late"


@dataclass(frozen=True, slots=True)
class Course:
    """The days on which one thing is told: once before, once on its day, once when late, then silence.

    `late_on` is the first day on which it is late, None for what is never called so; `over_on` the last day on which
    it is of use to speak of it.
    """

    due_on: dt.date
    over_on: dt.date
    soon_on: dt.date | None = None
    late_on: dt.date | None = None

    def stages(self) -> Iterator[tuple[Stage, dt.date, dt.date]]:
        """Each stage with its first day and the last day on which its notice is of use, in order."""
        if self.soon_on is not None and self.soon_on < self.due_on:
            yield Stage.SOON, self.soon_on, self.due_on
        before_late = self.over_on if self.late_on is None else days_after(self.late_on, -1)
        yield Stage.DUE, self.due_on, before_late
        if self.late_on is not None:
            yield Stage.LATE, self.late_on, self.over_on


@dataclass(frozen=True, slots=True)
class DueNotice:
    """A notice that is owed: which one, the day it belongs to, and the last day on which it is of use."""

    stage: Stage
    on: dt.date
    last_useful_on: dt.date


def due_notice(
    course: Course, *, known_on: dt.date, today: dt.date, put_off_until: dt.date | None = None
) -> DueNotice | None:
    """The one notice that a thing not yet done owes today; None while there is nothing to say.

    Only the newest of them: after a standstill nobody hears three times about one thing. Nothing is owed for what
    was written down when it was late already: the page said so. What was put off is told again on the day wished
    for, if that is still of use. The day of a notice comes from the facts alone, so that planning it again makes no
    second one.
    """
    if course.late_on is not None and known_on >= course.late_on:
        return None
    begun = [one for one in course.stages() if one[1] <= today]
    if not begun or (put_off_until is not None and today < put_off_until):
        return None
    stage, first_on, last_on = begun[-1]
    on = max(first_on, known_on, put_off_until or first_on)
    if put_off_until is not None and on == put_off_until and on > last_on:
        return None
    return DueNotice(stage, on, last_on)


def recount_course(window: Window) -> Course:
    """Announced before the ideal day, due on it, late after the window; then of use as long as a count still serves."""
    return Course(
        soon_on=max(days_after(window.ideal_on, -SOON_DAYS), window.earliest_on),
        due_on=window.ideal_on,
        late_on=days_after(window.latest_on, 1),
        over_on=days_after(window.latest_on, int(DEFAULTS.after_count_late_days.value)),
    )


def round_course(planned_on: dt.date) -> Course:
    """A round to give."""
    return Course(
        soon_on=days_after(planned_on, -ROUND_SOON_DAYS),
        due_on=planned_on,
        late_on=days_after(planned_on, ROUND_LATE_DAYS),
        over_on=days_after(planned_on, ROUND_USEFUL_DAYS),
    )


def out_course(out_on: dt.date) -> Course:
    """What is to be taken out: late from the next day on, and told of for long, because leaving it in does harm."""
    return Course(
        soon_on=days_after(out_on, -SOON_DAYS),
        due_on=out_on,
        late_on=days_after(out_on, 1),
        over_on=days_after(out_on, OUT_USEFUL_DAYS),
    )


def clear_course(clear_on: dt.date) -> Course:
    """The end of a withdrawal period: told once."""
    return Course(due_on=clear_on, over_on=days_after(clear_on, CLEAR_USEFUL_DAYS))


def call_course(first_on: dt.date, last_on: dt.date, over_on: dt.date) -> Course:
    """A count that a yard is asked for between two days."""
    late_on = days_after(last_on, 1)
    return Course(due_on=first_on, late_on=late_on if late_on <= over_on else None, over_on=over_on)


def week_course(first_on: dt.date, last_on: dt.date) -> Course:
    """A count week: told of when it begins, and once more before it ends unless it is too short for that."""
    ending = days_after(last_on, -WEEK_ENDING_DAYS)
    return Course(due_on=first_on, late_on=ending if ending > first_on else None, over_on=last_on)


def instant_of(on: dt.date, at: dt.time, zone: str) -> dt.datetime:
    """The instant, in UTC, of a wall clock reading in a zone.

    A reading that the clocks jump over means the first one after the jump; one that they show twice, the first.
    """
    local = dt.datetime.combine(on, at.replace(fold=0), tzinfo=zone_of(zone))
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
    return at.astimezone(zone_of(zone)).date()


def end_of_day(on: dt.date, zone: str) -> dt.datetime:
    """The instant at which a day is over in a zone."""
    return instant_of(days_after(on, 1), dt.time.min, zone)
