"""The only writers of a visit together with the counts made at it: both or neither.

The counts are ordinary ones, recorded by the inspector, who may count in a keeper's yard at a visit and at no other
time. Callers have passed a gate first.
"""

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

from apiaries.actions.visits import correct_visit, record_visit, void_visit
from apiaries.history import action
from apiaries.models import Person, Visit, Yard
from apiaries.standing import yards_on
from apiaries.visit_facts import NewVisit
from counts.actions import NewCount, record_samples, void_sample
from counts.models import MiteSample


class NotOfThisVisit(ValueError):
    """A count of another day, or of a colony that did not stand in the visited yard on that day."""


@action
def keep_visit(
    *, new: NewVisit, counts: Sequence[NewCount], planned: Visit | None, at: dt.datetime, by: Person
) -> Visit:
    """Keep a visit and its counts. The same entry keys with the same facts give back what is here.

    Errors: NotOfThisVisit; those of `record_visit` and `record_samples`.
    """
    stood = yards_on([(one.colony, one.sampled_on) for one in counts]) if counts else []
    if any(one.sampled_on != new.visited_on for one in counts) or any(yard != new.yard for yard in stood):
        raise NotOfThisVisit("A count of a visit is made on its day and in its yard.")
    Yard.objects.hold([new.yard.pk])
    visit = record_visit(new=new, planned=planned, at=at, by=by)
    record_samples(counts=[replace(one, visit=visit, stood=new.yard) for one in counts], at=at, by=by)
    return visit


@action
def correct_visit_and_counts(*, visit: Visit, new: NewVisit, why: str, at: dt.datetime, by: Person) -> Visit:
    """The corrected report has the counts of the one before: a wrong count is corrected by itself.

    Errors: those of `correct_visit`; NotOfThisVisit if its day changes while it has counts, whose day it is.
    """
    counts = MiteSample.objects.filter(visit=visit)
    if new.visited_on != visit.visited_on and counts.standing().exists():
        raise NotOfThisVisit("Counts were made on the day of this visit.")
    corrected = correct_visit(visit=visit, new=new, why=why, at=at, by=by)
    counts.update(visit=corrected)
    return corrected


@action
def void_visit_and_counts(*, visit: Visit, why: str, at: dt.datetime, by: Person) -> Visit:
    """A visit that does not count takes its counts with it. Errors: those of `void_visit`."""
    voided = void_visit(visit=visit, why=why, at=at, by=by)
    for sample in MiteSample.objects.standing().filter(visit=visit).order_by("pk"):
        void_sample(sample=sample, why=why, at=at, by=by)
    return voided
