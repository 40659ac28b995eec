"""Visits are planned, made, cancelled, corrected and voided by actions; nothing is lost, nothing is kept twice."""

import datetime as dt
from dataclasses import replace

import pytest
from django.db import IntegrityError, transaction

from apiaries.actions import add_yard, move_colony
from apiaries.actions.visit_follow_up import close_order, note_lab_result, reopen_order
from apiaries.actions.visits import (
    DayIsPast,
    PlannedAlready,
    VisitKeyReused,
    VisitNotPossible,
    VisitOver,
    VisitProblem,
    cancel_visit,
    correct_visit,
    plan_visits,
    record_visit,
    void_visit,
)
from apiaries.models import Visit, VisitState
from apiaries.visit_facts import NewFinding, NewOrder, as_new
from tests.visiting import AT, ON, a_visit


def planned(cast, days=0, **more):
    day = ON + dt.timedelta(days=days)
    (visit,) = plan_visits(yards=[cast.alice_yard], on=day, inspector=cast.ines, at=AT, by=cast.ines, **more)
    return visit


def recorded(cast, planned=None, **more):
    return record_visit(new=a_visit(cast, **more), planned=planned, at=AT, by=cast.ines)


def test_planned_visit_is_made_in_its_own_row(cast):
    plan = planned(cast)
    assert plan.state is VisitState.PLANNED

    visit = recorded(cast, plan)

    assert (visit.pk, visit.state, visit.report) == (plan.pk, VisitState.MADE, "2026-001")
    assert visit.planned_on == visit.visited_on == ON


def test_what_was_kept_is_what_was_typed(cast):
    new = a_visit(cast)

    visit = record_visit(new=new, planned=None, at=AT, by=cast.ines)

    assert as_new(Visit.objects.get(pk=visit.pk)) == new


def test_reports_are_numbered_by_club_and_year(cast):
    first, second = recorded(cast), recorded(cast)
    last_year = recorded(cast, visited_on=dt.date(2025, 12, 30), follow_up_on=None)

    assert [one.report for one in (first, second, last_year)] == ["2026-001", "2026-002", "2025-001"]


def test_same_key_keeps_one_visit(cast):
    new = a_visit(cast)

    first, second = (record_visit(new=new, planned=None, at=AT, by=cast.ines) for _ in range(2))

    assert first.pk == second.pk and Visit.objects.count() == 1


@pytest.mark.parametrize("changed", [{"remarks": "else"}, {"colonies_opened": 3}, {"orders": ()}])
def test_same_key_with_other_words_is_refused(cast, changed):
    new = a_visit(cast)
    record_visit(new=new, planned=None, at=AT, by=cast.ines)

    with pytest.raises(VisitKeyReused):
        record_visit(new=replace(new, **changed), planned=None, at=AT, by=cast.ines)


def test_same_key_is_here_though_lot_rule_and_duty_are_worked_out_anew(cast):
    new = a_visit(cast)
    kept = record_visit(new=new, planned=None, at=AT, by=cast.ines)
    (suspicion,) = new.suspicions
    again = replace(
        new,
        **{"colonies_to_open": 3, "rule": "half_from_11", "drawn": (cast.colony.pk,), "drawn_on": ON},
        suspicions=(replace(suspicion, duty="notifiable"),),
    )

    assert record_visit(new=again, planned=None, at=AT, by=cast.ines) == kept
    kept.refresh_from_db()
    assert (kept.rule, kept.suspicions.get().duty) == ("all", "unknown"), "what was kept stays"


@pytest.mark.parametrize(
    ("changed", "problem"),
    [
        ({"visited_on": ON + dt.timedelta(days=1), "follow_up_on": None}, VisitProblem.IN_THE_FUTURE),
        ({"colonies_opened": 7}, VisitProblem.MORE_OPENED),
        ({"follow_up_on": ON - dt.timedelta(days=1)}, VisitProblem.FOLLOW_UP_BEFORE),
    ],
)
def test_what_cannot_have_been_is_refused(cast, changed, problem):
    with pytest.raises(VisitNotPossible) as refused:
        recorded(cast, **changed)

    assert problem in refused.value.problems and not Visit.objects.exists()


def test_findings_are_of_colonies_of_this_yard_each_once_with_known_codes(cast):
    elsewhere = cast.charlie_yard.colonies.first()
    one = NewFinding(colony=cast.colony, strength="strong")
    for findings, problem in (
        ((NewFinding(colony=elsewhere),), VisitProblem.ELSEWHERE),
        ((one, one), VisitProblem.TWICE),
        ((NewFinding(colony=cast.colony, comb="purple"),), VisitProblem.UNKNOWN_CODE),
        ((NewFinding(colony=cast.colony, comb="other"),), VisitProblem.NOT_SAID),
    ):
        with pytest.raises(VisitNotPossible) as refused:
            recorded(cast, findings=findings, suspicions=())
        assert refused.value.problems == (problem,)


def test_planning_twice_for_one_day_is_refused_whole(cast):
    planned(cast)
    other = cast.alice_yard.__class__.objects.get(pk=cast.charlie_yard.pk)

    with pytest.raises(PlannedAlready) as refused:
        plan_visits(yards=[other, cast.alice_yard], on=ON, inspector=cast.ines, at=AT, by=cast.ines)

    assert refused.value.yard == cast.alice_yard and Visit.objects.count() == 1


def test_past_days_are_not_planned(cast):
    with pytest.raises(DayIsPast):
        planned(cast, days=-1)


def test_cancelled_visit_stays_and_makes_room(cast):
    plan = planned(cast)

    cancelled = cancel_visit(visit=plan, why="rain", at=AT, by=cast.ines)

    assert cancelled.state is VisitState.CANCELLED and cancelled.cancelled_why == "rain"
    assert planned(cast).state is VisitState.PLANNED
    for over in (
        lambda: cancel_visit(visit=plan, why="again", at=AT, by=cast.ines),
        lambda: recorded(cast, plan),
    ):
        with pytest.raises(VisitOver):
            over()


def test_correction_keeps_the_number_and_the_version_before(cast):
    old = recorded(cast)
    (order,) = old.orders.all()
    close_order(order=order, done_on=ON, note="seen", at=AT, by=cast.ines)
    new = a_visit(cast, remarks="two combs broken")

    corrected = correct_visit(visit=old, new=new, why="left out", at=AT, by=cast.ines)

    old.refresh_from_db()
    assert (old.state, old.voided_why) == (VisitState.VOIDED, "left out")
    assert corrected.report == "2026-001, version 2" and corrected.corrects == old
    assert corrected.orders.get().done_on == ON, "what was done about an order goes along"
    assert list(Visit.objects.made()) == [corrected]
    again = correct_visit(visit=old, new=new, why="left out", at=AT, by=cast.ines)
    assert again.pk == corrected.pk, "sent twice"
    with pytest.raises(VisitOver):
        correct_visit(visit=old, new=a_visit(cast), why="late", at=AT, by=cast.ines)


def orders(*days, what="Melt the old combs"):
    return tuple(NewOrder(what=what, due_on=day and ON + dt.timedelta(days=day)) for day in days)


@pytest.mark.parametrize(
    ("before", "done", "after", "still_done"),
    [
        ((10, 20), 10, (10, 20), {10}),
        ((10, 20), 20, (10, 20), {20}),
        ((10, 20), 10, (15, 20), {15}),
        ((10, 20), 20, (15, 20), {20}),
        ((10,), 10, (10, 20), {10}),
        ((None, 20), None, (20, None), {None}),
        ((10, 20), 10, (15, 25), set()),
        ((10, 20), 10, (20,), set()),
    ],
)
def test_each_order_done_before_closes_one_order_of_the_correction(cast, before, done, after, still_done):
    old = recorded(cast, orders=orders(*before))
    due = done and ON + dt.timedelta(days=done)
    close_order(order=old.orders.get(due_on=due), done_on=ON, note="seen", at=AT, by=cast.ines)

    new = correct_visit(
        visit=old, new=a_visit(cast, orders=orders(*after)), why="left out", at=AT, by=cast.ines
    )

    closed = {one.due_on and (one.due_on - ON).days for one in new.orders.exclude(done_on=None)}
    assert closed == still_done


def test_of_orders_equal_in_all_as_many_are_done_as_before(cast):
    old = recorded(cast, orders=orders(10, 10))
    close_order(order=old.orders.last(), done_on=ON, note="seen", at=AT, by=cast.ines)

    new = correct_visit(visit=old, new=a_visit(cast, orders=orders(10, 10)), why="x", at=AT, by=cast.ines)

    assert new.orders.exclude(done_on=None).count() == 1


def test_findings_are_of_colonies_that_stood_there_on_the_day_or_are_told_of_already(cast):
    meadow = add_yard(keeper=cast.alice, region=cast.north, name="Meadow", by=cast.alice)
    old = recorded(cast)
    move_colony(colony=cast.colonies[1], to_yard=meadow, moved_on=ON + dt.timedelta(days=1), by=cast.alice)
    assert recorded(cast).findings.count() == 2, "it moved later"
    move_colony(colony=cast.colony, to_yard=meadow, moved_on=ON - dt.timedelta(days=1), by=cast.alice)

    with pytest.raises(VisitNotPossible) as refused:
        recorded(cast)
    assert refused.value.problems == (VisitProblem.ELSEWHERE,)
    corrected = correct_visit(visit=old, new=a_visit(cast), why="left out", at=AT, by=cast.ines)

    assert corrected.findings.count() == 2


def test_voided_visit_stays_to_be_seen(cast):
    visit = recorded(cast)

    void_visit(visit=visit, why="wrong yard", at=AT, by=cast.ines)

    visit.refresh_from_db()
    assert visit.state is VisitState.VOIDED and visit.findings.count() == 2
    with pytest.raises(VisitOver):
        void_visit(visit=visit, why="again", at=AT, by=cast.ines)


def test_order_is_closed_once_and_opened_again_with_a_reason(cast):
    (order,) = recorded(cast).orders.all()

    close_order(order=order, done_on=ON, note="photo", at=AT, by=cast.ines)
    with pytest.raises(VisitOver):
        close_order(order=order, done_on=ON, note="", at=AT, by=cast.ines)
    reopen_order(order=order, why="wrong order", at=AT, by=cast.ines)

    order.refresh_from_db()
    assert order.done_on is None
    events = order.pgh_events if hasattr(order, "pgh_events") else order.events
    assert events.filter(done_note="photo").exists(), "what was noted stays in the history"


def test_answer_of_a_laboratory_comes_after_the_visit(cast):
    (sample,) = recorded(cast).lab_samples.all()
    for day in (ON - dt.timedelta(days=1), ON + dt.timedelta(days=1)):
        with pytest.raises(VisitNotPossible):
            note_lab_result(sample=sample, result_on=day, result="none", at=AT, by=cast.ines)

    noted = note_lab_result(sample=sample, result_on=ON, result="not found", at=AT, by=cast.ines)

    assert (noted.result, noted.result_by) == ("not found", cast.ines)


@pytest.mark.parametrize(
    "half", [{"number": None}, {"present": ""}, {"colonies_opened": 99}, {"voided_why": "x"}]
)
def test_database_refuses_half_a_visit(cast, half):
    visit = recorded(cast)

    with pytest.raises(IntegrityError), transaction.atomic():
        Visit.objects.filter(pk=visit.pk).update(**half)


def test_who_sees_and_who_changes(cast):
    made, told, silent = recorded(cast), planned(cast, 1), planned(cast, 2, announced=False)
    people = ("alice", "bob", "charlie", "dana", "ines", "ivan", "adam", "zoe")

    def having(ask, visit):
        return {
            name for name in people if getattr(Visit.objects, ask)(getattr(cast, name)).filter(pk=visit.pk)
        }

    assert having("visible_to", made) == having("visible_to", told) == {"alice", "bob", "ines"}
    assert having("visible_to", silent) == {"ines"}, "who is not told does not see it"
    assert having("editable_by", made) == having("plannable_by", told) == {"ines"}
