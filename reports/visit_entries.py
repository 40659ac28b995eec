"""Visits as a phone sends them: the boxes of the gate's form as typed, read by that form, each answered by its key."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from django.urls import reverse
from django.utils import timezone

from apiaries.entries import Answer, Refused, State, echo_of, is_text, key_in
from apiaries.language import mark, say
from apiaries.models import Person, Visit, Yard
from apiaries.views.asking import today_in
from counts.visit_actions import keep_visit
from reports.visit_form import VisitForm
from reports.visit_gate import KEEP, typed_form
from reports.visit_typed import OF_THE_PAGE

BYTES_MAX = 1024 * 1024
ENTRIES_MAX = 50
BOXES_MAX = 2_000
"""Sixty colonies have some fifteen boxes each (our choice)."""
VERSION = 1
"""Of what an entry holds. The page writes it into every entry, because a phone may send one of an older page."""
OTHER_VERSION = mark(
    "This was noted by another version of the page. Open it here with Mend it, and keep it again."
)
PLAN_OVER = mark(
    "The planned visit was made or cancelled meanwhile. If you made another one, keep it as a visit of its own."
)


@dataclass(frozen=True, slots=True)
class VisitAnswer(Answer):
    """Also where the report is, (place, what) of all to mend, what to ask first with the ticks that answer it.

    `over`: its plan is over; it can be kept as a visit that nobody planned.
    """

    url: str = ""
    report: str = ""
    problems: list[tuple[str, str]] = field(default_factory=list)
    asks: list[str] = field(default_factory=list)
    sure: dict[str, str] = field(default_factory=dict)
    over: bool = False


def keep_visit_entries(entries: Sequence[object], yard: Yard, person: Person) -> list[VisitAnswer]:
    """Keep each visit to this yard on its own, in the order sent. The person may record visits in the yard."""
    return [_kept(told, yard, person) for told in entries]


def _kept(told: object, yard: Yard, person: Person) -> VisitAnswer:
    key = echo_of(told)
    try:
        if not isinstance(told, dict):
            raise Refused(say("This is no entry."))
        entry_key = key_in(told.get("key"))
        boxes = _boxes(told)
        here = Visit.objects.filter(entry_key=entry_key, yard=yard, recorded_by=person).exists()
        planned = _planned(told, yard, person)
    except Refused as error:
        return VisitAnswer(key, State.REFUSED, str(error))
    if planned is None and told.get("planned") is not None and not here:
        return VisitAnswer(key, State.REFUSED, say(PLAN_OVER), over=True)
    form = typed_form(boxes | {"entry_key": str(entry_key)}, yard, person, today_in(yard), step=KEEP)
    if not form.is_valid() or (form.asks and not here):
        return _refusal(key, form)
    at = timezone.now()
    return _written(key, form, planned, at, person, here=here)


def _written(
    key: str | None,
    form: VisitForm,
    planned: Visit | None,
    at: dt.datetime,
    person: Person,
    *,
    here: bool,
) -> VisitAnswer:
    made: list[Visit] = []

    def write() -> None:
        made.append(keep_visit(new=form.new, counts=form.counts, planned=planned, at=at, by=person))

    if not form.saves(write):
        return _refusal(key, form)
    (visit,) = made
    fresh = not here and visit.recorded_at == at  # another send of it may have been quicker meanwhile
    state = State.SAVED if fresh else State.HERE
    return VisitAnswer(key, state, url=reverse("reports:visit-detail", args=[visit.pk]), report=visit.report)


def _planned(told: dict[str, Any], yard: Yard, person: Person) -> Visit | None:
    """The planned visit that was made, if it is still one. Errors: Refused where its number is none."""
    number = told.get("planned")
    if number is None:
        return None
    if not isinstance(number, int) or isinstance(number, bool) or not 0 < number < 2**63:
        raise Refused(say("This is no entry."))
    return Visit.objects.plannable_by(person).filter(yard=yard, pk=number).first()


def _boxes(told: dict[str, Any]) -> dict[str, str]:
    """The boxes as they were typed. Errors: Refused for another version, and where one holds no text."""
    if told.get("v") != VERSION:
        raise Refused(say(OTHER_VERSION))
    boxes = told.get("boxes")
    if not isinstance(boxes, dict) or len(boxes) > BOXES_MAX:
        raise Refused(say("This is no entry."))
    if not all(is_text(name) and is_text(text) for name, text in boxes.items()):
        raise Refused(say("A box of this entry holds no text."))
    return {name: text for name, text in boxes.items() if text and name not in OF_THE_PAGE}


def _refusal(key: str | None, form: VisitForm) -> VisitAnswer:
    problems = form.problems
    if problems:
        words = " ".join(dict.fromkeys(words for _, words in problems))
        return VisitAnswer(key, State.REFUSED, words, problems=problems)
    asks, sure = _questions(form)
    return VisitAnswer(key, State.REFUSED, " ".join(asks), asks=asks, sure=sure)


def _questions(form: VisitForm) -> tuple[list[str], dict[str, str]]:
    """What is odd about the counts, and the ticks that say it is right all the same."""
    counting = form.counting
    if counting is None:
        return [], {}
    asks, sure = list(counting.questions), {"sure": counting.sure_value} if counting.questions else {}
    for row in counting.rows:
        asks += [f"{row.row_name}: {question}" for question in row.questions]
        sure |= {row.sure_name: row.sure_value} if row.questions else {}
    return asks, sure
