"""What follows from a visit: orders that are done, and what laboratories answered. Callers have passed a gate first."""

import datetime as dt

import pghistory

from apiaries.actions.visits import VisitNotPossible, VisitOver, VisitProblem
from apiaries.history import action
from apiaries.models import LabSample, Person, VisitOrder


@action
def close_order(*, order: VisitOrder, done_on: dt.date, note: str, at: dt.datetime, by: Person) -> VisitOrder:
    """What was asked for is done. Errors: VisitOver if that was noted before; VisitNotPossible for a day to come."""
    locked = VisitOrder.objects.select_for_update(of=("self",)).select_related("visit__yard").get(pk=order.pk)
    if locked.done_on is not None:
        raise VisitOver("This was noted as done before.")
    if done_on > locked.visit.yard.local_date(at):
        raise VisitNotPossible([VisitProblem.IN_THE_FUTURE])
    locked.done_on, locked.done_note, locked.done_at, locked.done_by = done_on, note.strip(), at, by
    locked.save(update_fields=["done_on", "done_note", "done_at", "done_by"])
    return locked


@action
def reopen_order(*, order: VisitOrder, why: str, at: dt.datetime, by: Person) -> VisitOrder:
    """It was noted as done by mistake; that it was stays in the history, with the reason. Twice changes nothing."""
    locked = VisitOrder.objects.select_for_update().get(pk=order.pk)
    if locked.done_on is None:
        return locked
    locked.done_on, locked.done_note, locked.done_at, locked.done_by = None, "", None, None
    with pghistory.context(why=why.strip(), at=at.isoformat()):
        locked.save(update_fields=["done_on", "done_note", "done_at", "done_by"])
    return locked


@action
def note_lab_result(
    *, sample: LabSample, result_on: dt.date, result: str, at: dt.datetime, by: Person
) -> LabSample:
    """What the laboratory answered; noted again, what stood there before stays in the history.

    Errors: VisitNotPossible for a day to come, or before the visit.
    """
    locked = LabSample.objects.select_for_update(of=("self",)).select_related("visit__yard").get(pk=sample.pk)
    if result_on > locked.visit.yard.local_date(at):
        raise VisitNotPossible([VisitProblem.IN_THE_FUTURE])
    if result_on < locked.visit.on:
        raise VisitNotPossible([VisitProblem.FOLLOW_UP_BEFORE])
    locked.result_on, locked.result, locked.result_at, locked.result_by = result_on, result.strip(), at, by
    locked.save(update_fields=["result_on", "result", "result_at", "result_by"])
    return locked
