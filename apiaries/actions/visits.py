"""The only writers of visits. Callers have passed a gate first.

Counts made at a visit are kept by `counts.visit_actions`, in one transaction with the visit they belong to.
"""

import datetime as dt
from collections.abc import Iterable
from enum import StrEnum

from django.db.models import Max

from apiaries.actions.visit_versions import take_along
from apiaries.history import action
from apiaries.models import (
    Club,
    LabSample,
    Person,
    Visit,
    VisitFinding,
    VisitOrder,
    VisitSuspicion,
    Yard,
)
from apiaries.standing import named_in, stood_in
from apiaries.visit_facts import COLUMNS, NewVisit, as_new, says_the_same, tidy
from apiaries.visit_words import ASPECTS, OTHER


class VisitProblem(StrEnum):
    """Why a visit cannot have been as it was typed."""

    IN_THE_FUTURE = "in_the_future"
    MORE_OPENED = "more_opened"
    FOLLOW_UP_BEFORE = "follow_up_before"
    ELSEWHERE = "elsewhere"
    TWICE = "twice"
    UNKNOWN_CODE = "unknown_code"
    NOT_SAID = "not_said"


class VisitNotPossible(ValueError):
    """The visit cannot have been so: `problems` says why."""

    def __init__(self, problems: Iterable[VisitProblem]) -> None:
        self.problems = tuple(problems)
        super().__init__(", ".join(self.problems))


class VisitKeyReused(ValueError):
    """Another visit already has this entry key, or it says something else."""


class VisitOver(ValueError):
    """It was made, cancelled, voided or corrected before."""


class PlannedAlready(ValueError):
    """A visit to this yard is planned for that day; `yard` says which."""

    def __init__(self, yard: Yard) -> None:
        self.yard = yard
        super().__init__(str(yard))


class DayIsPast(ValueError):
    """A visit is planned for today or a day to come."""


@action
def plan_visits(
    *,
    yards: Iterable[Yard],
    on: dt.date,
    inspector: Person,
    announced: bool = True,
    why: str = "",
    at: dt.datetime,
    by: Person,
) -> list[Visit]:
    """A planned visit to each yard, all or none, in the order given. Errors: DayIsPast; PlannedAlready."""
    chosen = list(yards)
    Yard.objects.hold(yard.pk for yard in chosen)
    taken = set(Visit.objects.planned().filter(planned_on=on, yard__in=chosen).values_list("yard", flat=True))
    made = []
    for yard in chosen:
        if on < yard.local_date(at):
            raise DayIsPast(str(yard))
        if yard.pk in taken:
            raise PlannedAlready(yard)
        visit = Visit(
            club_id=yard.club_id,
            yard=yard,
            inspector=inspector,
            planned_on=on,
            planned_at=at,
            planned_by=by,
            planned_why=why.strip(),
            announced=announced,
        )
        visit.clean_fields(exclude=["club"])
        made.append(visit)
    return Visit.objects.bulk_create(made)


@action
def cancel_visit(*, visit: Visit, why: str, at: dt.datetime, by: Person) -> Visit:
    """It is not made. Errors: VisitOver if it was made or cancelled before."""
    locked = _locked(visit)
    if locked.visited_on is not None or locked.cancelled_at is not None:
        raise VisitOver("This visit was made or cancelled before.")
    locked.cancelled_at, locked.cancelled_by, locked.cancelled_why = at, by, why.strip()
    locked.save(update_fields=["cancelled_at", "cancelled_by", "cancelled_why"])
    return locked


@action
def record_visit(*, new: NewVisit, planned: Visit | None, at: dt.datetime, by: Person) -> Visit:
    """Keep a visit with all its parts, in the row of the planned one if there is one, under the next report number.

    The same entry key with the same facts gives back the visit that is here.
    Errors: VisitNotPossible; VisitKeyReused; VisitOver if the planned one was made or cancelled meanwhile.
    """
    new = tidy(new)
    Yard.objects.hold([new.yard.pk])  # a second send of the same visit waits here, not halfway
    here = visit_kept_with(new, by)
    if here is not None:
        return here
    _refuse(new, at)
    if planned is None:
        visit = Visit(club_id=new.yard.club_id, yard=new.yard)
    else:
        visit = _locked(planned)
        if visit.visited_on is not None or visit.cancelled_at is not None or visit.yard_id != new.yard.pk:
            raise VisitOver("This visit was made or cancelled before.")
    visit.inspector, visit.year, visit.version = by, new.visited_on.year, 1
    visit.number = _next_number(new.yard.club_id, new.visited_on.year)
    return _written(visit, new, at=at, by=by)


@action
def correct_visit(*, visit: Visit, new: NewVisit, why: str, at: dt.datetime, by: Person) -> Visit:
    """Put a corrected report in the place of `visit`, which stays, struck through, with who and why.

    It has the same number and the next version. What was done about orders and what laboratories answered goes along
    where the order or sample is the same. Errors: VisitOver; VisitNotPossible; VisitKeyReused.
    """
    new = tidy(new)
    Yard.objects.hold([new.yard.pk])
    here = visit_kept_with(new, by)
    if here is not None:
        return here
    _refuse(new, at, corrects=visit)
    old = _void(visit, why=why, at=at, by=by)
    if old.version is None:
        raise VisitOver("Only a visit that was made is corrected.")
    corrected = Visit(
        club_id=old.club_id,
        yard=new.yard,
        inspector=old.inspector,
        planned_on=old.planned_on,
        planned_at=old.planned_at,
        planned_by=old.planned_by,
        planned_why=old.planned_why,
        announced=old.announced,
        year=old.year,
        number=old.number,
        version=old.version + 1,
        corrects=old,
    )
    written = _written(corrected, new, at=at, by=by)
    take_along(old, written)
    return written


@action
def void_visit(*, visit: Visit, why: str, at: dt.datetime, by: Person) -> Visit:
    """The visit does not count, but stays to be seen. Errors: VisitOver if it was voided before, or never made."""
    Yard.objects.hold([visit.yard_id])
    return _void(visit, why=why, at=at, by=by)


def visit_kept_with(new: NewVisit, by: Person) -> Visit | None:
    """The visit that is here under this key, if any. Errors: VisitKeyReused if it says something else."""
    found = Visit.objects.filter(entry_key=new.entry_key).select_related("yard").first()
    if found is None:
        return None
    if found.recorded_by_id != by.pk or not says_the_same(tidy(new), as_new(found)):
        raise VisitKeyReused("Another visit has this entry key.")
    return found


def problems_of_visit(new: NewVisit, at: dt.datetime, *, corrects: Visit | None = None) -> list[VisitProblem]:
    """Why the visit cannot have been as typed, in the order of the form.

    What the visit that it corrects names stays possible, whatever was told of moves since.
    """
    problems = []
    if new.visited_on > new.yard.local_date(at):
        problems.append(VisitProblem.IN_THE_FUTURE)
    if new.colonies_opened > new.colonies_present:
        problems.append(VisitProblem.MORE_OPENED)
    if new.follow_up_on is not None and new.follow_up_on < new.visited_on:
        problems.append(VisitProblem.FOLLOW_UP_BEFORE)
    colonies = [finding.colony.pk for finding in new.findings]
    if len(set(colonies)) < len(colonies):
        problems.append(VisitProblem.TWICE)
    if any(code and code not in _codes(name) for one in new.findings for name, code in one.codes.items()):
        problems.append(VisitProblem.UNKNOWN_CODE)
    if any(OTHER in one.codes.values() and not one.remark.strip() for one in new.findings):
        problems.append(VisitProblem.NOT_SAID)
    named = [one.colony for one in new.findings]
    named += [one.colony for one in new.suspicions if one.colony is not None]
    there = stood_in(new.yard, named, new.visited_on) | (named_in(corrects) if corrects else set())
    if any(colony.pk not in there for colony in named):
        problems.append(VisitProblem.ELSEWHERE)
    return problems


def _codes(name: str) -> dict[str, str]:
    return next(aspect.codes for aspect in ASPECTS if aspect.name == name)


def _refuse(new: NewVisit, at: dt.datetime, *, corrects: Visit | None = None) -> None:
    problems = problems_of_visit(new, at, corrects=corrects)
    if problems:
        raise VisitNotPossible(problems)


def _locked(visit: Visit) -> Visit:
    return Visit.objects.select_for_update(of=("self",)).select_related("yard").get(pk=visit.pk)


def _next_number(club: int, year: int) -> int:
    """The next report of the club and year; the club's row is held, so that two reports never get one number."""
    Club.objects.select_for_update(no_key=True).get(pk=club)
    last = Visit.objects.filter(club=club, year=year).aggregate(last=Max("number"))["last"]
    return int(last or 0) + 1


def _written(visit: Visit, new: NewVisit, *, at: dt.datetime, by: Person) -> Visit:
    for name in COLUMNS:
        setattr(visit, name, getattr(new, name))
    visit.drawn = list(new.drawn)
    visit.entry_key, visit.recorded_at, visit.recorded_by = new.entry_key, at, by
    visit.clean_fields(exclude=["club", "yard", "inspector", "corrects"])
    visit.save()
    VisitFinding.objects.bulk_create(
        VisitFinding(visit=visit, colony=one.colony, remark=one.remark, **one.codes) for one in new.findings
    )
    VisitSuspicion.objects.bulk_create(
        VisitSuspicion(visit=visit, colony=one.colony, disease=one.disease, duty=one.duty, seen=one.seen)
        for one in new.suspicions
    )
    LabSample.objects.bulk_create(
        LabSample(
            visit=visit, number=one.number, what=one.what, sent_to=one.sent_to, results_to=one.results_to
        )
        for one in new.lab_samples
    )
    VisitOrder.objects.bulk_create(
        VisitOrder(visit=visit, what=one.what, due_on=one.due_on) for one in new.orders
    )
    return visit


def _void(visit: Visit, *, why: str, at: dt.datetime, by: Person) -> Visit:
    locked = _locked(visit)
    if locked.visited_on is None or locked.voided_at is not None:
        raise VisitOver("This visit was voided or corrected before.")
    locked.voided_at, locked.voided_by, locked.voided_why = at, by, why.strip()
    locked.save(update_fields=["voided_at", "voided_by", "voided_why"])
    return locked
