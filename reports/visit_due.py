"""What follows from visits: orders, follow-up visits, answers of laboratories, each due, late, done or not due yet."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Exists, OuterRef, QuerySet
from django.urls import reverse

from apiaries.language import mark, say
from apiaries.models import LabSample, Person, Visit, VisitOrder, Yard

NOT_DUE, DUE, LATE, DONE = "not_due", "due", "late", "done"
STATE_WORDS = {
    NOT_DUE: mark("not due"),
    DUE: mark("due"),
    LATE: mark("late"),
    DONE: mark("done"),
}
SOON_DAYS = 14
"""Due from so many days before its day (our choice); late from the day after."""
ORDER, FOLLOW_UP, ANSWER = "order", "follow_up", "answer"
KIND_WORDS = {
    ORDER: mark("Order"),
    FOLLOW_UP: mark("Follow-up visit"),
    ANSWER: mark("Answer of a laboratory"),
}
DONE_SHOWN = 100


@dataclass(frozen=True, slots=True)
class Due:
    """One thing that follows from a visit."""

    kind: str
    visit: Visit
    what: str
    due_on: dt.date | None
    done_on: dt.date | None
    state: str
    url: str
    action: str

    @property
    def kind_words(self) -> str:
        return say(KIND_WORDS[self.kind])

    @property
    def state_words(self) -> str:
        return say(STATE_WORDS[self.state])

    @property
    def order(self) -> tuple[int, dt.date, int]:
        """Late first, then by their days; without a day after those with one."""
        return (LATE, DUE, NOT_DUE, DONE).index(self.state), self.due_on or dt.date.max, self.visit.pk


def state_of(due_on: dt.date | None, done_on: dt.date | None, on: dt.date) -> str:
    """Where something stands on a day; without a day of its own it is due until it is done."""
    if done_on is not None:
        return DONE
    if due_on is None:
        return DUE
    if on > due_on:
        return LATE
    return DUE if (due_on - on).days <= SOON_DAYS else NOT_DUE


def due_of(person: Person, on: dt.date, *, yard: Yard | None = None, done: bool = False) -> list[Due]:
    """All that is open in the inspector's regions, or in one yard; with `done`, what is done instead, newest first."""
    made = Visit.objects.made().inspected_by(person)
    made = made.filter(yard=yard) if yard is not None else made
    found = [*_orders(made, on, done), *_follow_ups(made, on, done), *_answers(made, on, done)]
    if done:
        return sorted(found, key=lambda one: (one.done_on or dt.date.min, one.visit.pk), reverse=True)[
            :DONE_SHOWN
        ]
    return sorted(found, key=lambda one: one.order)


def _orders(made: "QuerySet[Visit]", on: dt.date, done: bool) -> Sequence[Due]:
    rows = VisitOrder.objects.filter(visit__in=made.values("pk"), done_on__isnull=not done)
    return [
        Due(
            ORDER,
            one.visit,
            one.what,
            one.due_on,
            one.done_on,
            state_of(one.due_on, one.done_on, on),
            reverse("reports:order-done", args=[one.pk]),
            say("Not done after all") if done else say("Note as done"),
        )
        for one in rows.select_related("visit__yard__keeper", "visit__yard__region")
    ]


def asking_again(made: "QuerySet[Visit]", *, done: bool = False) -> "QuerySet[Visit]":
    """Of visits that were made, those that asked for another: done by any later visit to the yard that stands."""
    later = Exists(_later_visits())
    return made.exclude(follow_up_on=None).filter(later if done else ~later)


def _later_visits() -> "QuerySet[Visit]":
    return Visit.objects.made().filter(yard=OuterRef("yard"), visited_on__gt=OuterRef("visited_on"))


def _follow_ups(made: "QuerySet[Visit]", on: dt.date, done: bool) -> Sequence[Due]:
    first = _later_visits().order_by("visited_on", "pk").values("visited_on")[:1]
    rows = asking_again(made, done=done).annotate(done_on=first)
    return [
        Due(
            FOLLOW_UP,
            one,
            say("Visit the yard again"),
            one.follow_up_on,
            one.done_on,
            state_of(one.follow_up_on, one.done_on, on),
            reverse("reports:visit-add", args=[one.yard_id]),
            "" if done else say("Record the visit"),
        )
        for one in rows.select_related("yard__keeper", "yard__region")
    ]


def _answers(made: "QuerySet[Visit]", on: dt.date, done: bool) -> Sequence[Due]:
    rows = LabSample.objects.filter(visit__in=made.values("pk"), result_on__isnull=not done)
    return [
        Due(
            ANSWER,
            one.visit,
            say("Sample {number}: {what}", number=one.number, what=one.what),
            None,
            one.result_on,
            state_of(None, one.result_on, on),
            reverse("reports:lab-result", args=[one.pk]),
            say("Note the answer"),
        )
        for one in rows.select_related("visit__yard__keeper", "visit__yard__region")
    ]
