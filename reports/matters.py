"""What yards ask of their keepers: one list from treatments and calls for counts, for the page Today and for mails.

A matter is worked out from the facts and is gone once it is done; nothing here is stored. Every function asks a
constant number of queries, however many yards there are.
"""

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from enum import StrEnum

from django.db.models import Count, QuerySet

from apiaries.models import Colony, Yard
from reports.due_days import (
    Course,
    call_course,
    clear_course,
    instant_of,
    out_course,
    recount_course,
    round_course,
    week_course,
)
from treatments.count_calls import CallWhy, CountCall
from treatments.due import DueItem, DueKind, Standing, items_of, read_standing
from treatments.models import Treatment

LATER_DAYS = 3
"""So long something is put off."""


class MatterKind(StrEnum):
    """What is to be done, as notices are filed."""

    RECOUNT = "recount"
    ROUND = "round"
    OUT = "out"
    CLEAR = "clear"
    COUNT = "count"
    WEEK = "week"

    @property
    def is_call(self) -> bool:
        """Whether it is one of the counts that a club asks for; people can stop mails about these alone."""
        return self in (MatterKind.COUNT, MatterKind.WEEK)


@dataclass(frozen=True, slots=True)
class Matter:
    """One thing that a yard asks for while it is open.

    `subject` is what notices and wishes about it are filed under. No `course` where only the label tells the day:
    it is listed, and no mail comes. `colonies`: how many living ones it is about.
    """

    kind: MatterKind
    subject: str
    yard: Yard
    course: Course | None
    known_at: dt.datetime
    colonies: int
    about: DueItem | CountCall

    @property
    def known_on(self) -> dt.date:
        """The day in the yard on which it was written down."""
        return self.yard.local_date(self.known_at)

    def comes_back_on(self, today: dt.date) -> dt.date | None:
        """When it is told again if it is put off today; None if it is of no use by then."""
        until = today + dt.timedelta(days=LATER_DAYS)
        return until if self.course is None or until <= self.course.over_on else None

    @property
    def last_on(self) -> dt.date | None:
        """The day by which it is to be done."""
        about = self.about
        return about.last_on if isinstance(about, CountCall) else about.until or about.on


_KINDS = {
    DueKind.RECOUNT: MatterKind.RECOUNT,
    DueKind.GIVE_ROUND: MatterKind.ROUND,
    DueKind.TAKE_OUT: MatterKind.OUT,
    DueKind.CLEAR: MatterKind.CLEAR,
}


def treatment_matters(treatments: "QuerySet[Treatment]", on: dt.date) -> list[Matter]:
    """What these treatments ask for on a day."""
    return matters_of(read_standing(treatments, on), on)


def matters_of(standing: Standing, on: dt.date) -> list[Matter]:
    """The same of treatments that are read already. One query where rounds are to be given, else none."""
    items = items_of(standing, on)
    treated = {item.treatment.pk: standing.living.get(item.treatment.pk, 0) for item in items}
    here = _colonies_of_yards(
        {item.yard.pk for item in items if item.kind is DueKind.GIVE_ROUND and not treated[item.treatment.pk]}
    )
    return [_of_item(item, treated[item.treatment.pk] or here[item.yard.pk]) for item in items]


def call_matters(calls: Iterable[CountCall]) -> list[Matter]:
    """The counts that yards are asked for, as matters."""
    return [_of_call(call) for call in calls]


def subject_of(item: DueItem) -> str:
    """What notices about a treatment's next thing are filed under."""
    kind = _KINDS[item.kind]
    if kind is MatterKind.RECOUNT:
        return f"recount:{item.treatment.recount.pk}"
    return f"{kind}:{item.round.pk if item.round else item.treatment.pk}"


def keys_by_kind(subjects: Iterable[str]) -> dict[MatterKind, set[int]]:
    """Of subjects about treatments: the keys of the recounts, rounds and treatments that they name."""
    keys: dict[MatterKind, set[int]] = defaultdict(set)
    for subject in subjects:
        kind, _, key = subject.partition(":")
        if kind in _KINDS.values() and key.isdecimal():
            keys[MatterKind(kind)].add(int(key))
    return keys


def _of_item(item: DueItem, colonies: int) -> Matter:
    return Matter(
        kind=_KINDS[item.kind],
        subject=subject_of(item),
        yard=item.yard,
        course=_course_of(item),
        known_at=item.treatment.recorded_at,
        colonies=colonies,
        about=item,
    )


def _course_of(item: DueItem) -> Course | None:
    if item.kind is DueKind.RECOUNT:
        return recount_course(item.treatment.recount.window)
    if item.on is None:
        return None
    by_kind = {
        DueKind.GIVE_ROUND: round_course,
        DueKind.TAKE_OUT: out_course,
        DueKind.CLEAR: clear_course,
    }
    return by_kind[item.kind](item.on)


def _of_call(call: CountCall) -> Matter:
    is_week = call.why is CallWhy.WEEK
    course = (
        week_course(call.first_on, call.last_on)
        if is_week
        else call_course(call.first_on, call.last_on, call.over_on)
    )
    begins_at = instant_of(call.first_on, dt.time.min, call.yard.time_zone)
    return Matter(
        kind=MatterKind.WEEK if is_week else MatterKind.COUNT,
        subject=call.subject,
        yard=call.yard,
        course=course,
        known_at=max(begins_at, call.yard.made_at),
        colonies=call.colonies,
        about=call,
    )


def _colonies_of_yards(yards: Collection[int]) -> Counter[int]:
    """By yard: how many living colonies stand there, for rounds that nobody gave yet."""
    if not yards:
        return Counter()
    rows = Colony.objects.living().filter(yard__in=yards).values("yard").annotate(number=Count("pk"))
    return Counter({row["yard"]: row["number"] for row in rows.order_by()})
