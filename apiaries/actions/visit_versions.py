"""What goes along from a report to the one that corrects it. Called by `apiaries.actions.visits` only."""

from collections.abc import Iterator
from typing import Any

from apiaries.models import Visit, VisitOrder


def take_along(old: Visit, new: Visit) -> None:
    """What was done about orders and samples of the report before, where they are the same."""
    for before, after in _pairs(old, new):
        if before.done_on is not None:
            new.orders.filter(pk=after.pk).update(
                done_on=before.done_on,
                done_note=before.done_note,
                done_at=before.done_at,
                done_by=before.done_by,
            )
    for sample in old.lab_samples.exclude(result_on=None):
        new.lab_samples.filter(number=sample.number).update(
            result_on=sample.result_on,
            result=sample.result,
            result_at=sample.result_at,
            result_by=sample.result_by,
        )


def _pairs(old: Visit, new: Visit) -> Iterator[tuple[VisitOrder, VisitOrder]]:
    """Each order with the one that is the same in the corrected report, each of them once.

    The same are those with equal words and day; of what is left, those with equal words, if there is one on each side:
    then its day was corrected. Which of several was meant, nobody can tell.
    """
    # Of orders that are equal in all, those done come first: with fewer of them now, nothing noted is lost.
    before = sorted(old.orders.all(), key=lambda one: (one.done_on is None, one.pk))
    after = list(new.orders.all())
    for one in list(before):
        same = next((other for other in after if _words_and_day(other) == _words_and_day(one)), None)
        if same is not None:
            before.remove(one)
            after.remove(same)
            yield one, same
    for words in dict.fromkeys(one.what for one in before):
        left = [one for one in before if one.what == words]
        right = [one for one in after if one.what == words]
        if len(left) == len(right) == 1:
            yield left[0], right[0]


def _words_and_day(order: VisitOrder) -> tuple[str, Any]:
    return order.what, order.due_on
