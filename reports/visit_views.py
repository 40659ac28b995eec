"""A visit: at the gate, check your answers, its report, corrected, voided, cancelled."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from apiaries.access import editable_visit_for, plannable_visit_for, visit_for, visitable_yard_for
from apiaries.actions.visits import cancel_visit
from apiaries.entries import KEEP_FOR
from apiaries.forms.base import posted
from apiaries.language import say
from apiaries.models import Visit, VisitState, Yard
from apiaries.views.asking import person_of, today_in
from apiaries.visit_facts import as_new
from apiaries.who_sees import who_sees_visit
from counts.measuring import half_cup_figures
from counts.presenters import moment
from counts.visit_actions import correct_visit_and_counts, keep_visit, void_visit_and_counts
from reports.visit_form import VisitForm
from reports.visit_gate import (
    CHANGE,
    KEEP,
    MORE,
    as_drawn_then,
    blank_form,
    correction_form,
    gate_context,
    small,
    to_open,
    typed_form,
)
from reports.visit_phone import gate_phone, waiting_phone
from reports.visit_sheet import sheet_of, told_of, visit_page
from reports.visit_typed import flat, typed_of
from reports.visit_why import WhyCancelForm, WhyVisitForm, WhyVoidForm


def visit_add(request: HttpRequest, pk: int) -> HttpResponse:
    """A visit that nobody planned."""
    yard = visitable_yard_for(person_of(request), pk)
    return _gate(request, yard, planned=None)


def visit_make(request: HttpRequest, pk: int) -> HttpResponse:
    """A planned visit, at the gate."""
    person = person_of(request)
    if request.method == "GET":
        found = visit_for(person, pk)
        inspects = Visit.objects.inspected_by(person).filter(pk=pk).exists()
        if inspects and found.state is not VisitState.PLANNED:
            return redirect(
                "reports:visit-detail", pk=pk
            )  # a link, or a phone that kept the page, comes late
    visit = plannable_visit_for(person, pk)
    return _gate(request, visit.yard, planned=visit)


def _gate(request: HttpRequest, yard: Yard, *, planned: Visit | None) -> HttpResponse:
    person, today = person_of(request), today_in(yard)
    on = planned.planned_on if planned is not None and planned.planned_on else today
    step = request.POST.get("step", "")
    if request.method != "POST":
        present = small(request.GET.get("present"))
        chosen = to_open(yard, on=on, present=present, draw=small(request.GET.get("draw"), most=9999) or 0)
        form = blank_form(yard, person, today, chosen, present=present)
        answer = _gate_page(request, form, planned, chosen)
        answer[KEEP_FOR] = str(person.pk)
        return answer
    form = typed_form(flat(request.POST), yard, person, today, step=step)
    chosen = to_open(
        yard,
        on=on,
        present=small(request.POST.get("colonies_present")),
        draw=small(request.POST.get("draw"), most=9999) or 0,
    )
    if step in (CHANGE, MORE) or not form.is_valid():
        return _gate_page(request, form, planned, chosen)
    made: list[Visit] = []

    def write() -> None:
        made.append(
            keep_visit(new=form.new, counts=form.counts, planned=planned, at=timezone.now(), by=person)
        )

    if step == KEEP and not form.asks and form.saves(write):
        messages.success(request, say("The visit is recorded as report {number}.", number=made[0].report))
        return redirect("reports:visit-detail", pk=made[0].pk)
    if form.errors:
        return _gate_page(request, form, planned, chosen)
    return _check_page(request, form, planned=planned)


def _gate_page(request: HttpRequest, form: VisitForm, planned: Visit | None, chosen: Any) -> HttpResponse:
    person = person_of(request)
    context = gate_context(form, chosen) | {"yard": form.yard, "planned": planned}
    context |= {
        "half_cup": half_cup_figures(),
        "phone": gate_phone(form.yard, person, planned=planned, on=chosen.on),
        "tells": told_of(form.known, form.yard.club),
        "sent_before": request.method == "POST",
    }
    return render(request, "reports/visit_gate.html", context)


def _check_page(
    request: HttpRequest, form: VisitForm, *, planned: Visit | None = None, why: str = ""
) -> HttpResponse:
    typed = flat(request.POST)
    asked = {row.sure_name for row in form.counting.rows if row.questions} if form.counting else set()
    asked |= {"sure"} if form.counting and form.counting.questions else set()
    context = {
        "form": form,
        "yard": form.yard,
        "planned": planned,
        "sheet": sheet_of(form.new),
        "counts": form.counts,
        "why": why,
        "typed": [(name, text) for name, text in typed.items() if name not in asked],
        "asked_again": form.asks and request.POST.get("step") == KEEP,
        "who_sees": who_sees_visit(form.yard, viewer=person_of(request)),
    }
    return render(request, "reports/visit_check.html", context)


@require_safe
def visit_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """A visit: planned, or with its report."""
    person = person_of(request)
    visit = visit_for(person, pk)
    context: dict[str, Any] = {
        "visit": visit,
        "yard": visit.yard,
        "may_make": Visit.objects.plannable_by(person).filter(pk=pk).exists(),
        "inspects": Visit.objects.inspected_by(person).filter(pk=pk).exists(),
        "who_sees": who_sees_visit(visit.yard, viewer=person),
        "when": {
            name: moment(found, person)
            for name in ("recorded_at", "voided_at", "cancelled_at")
            if (found := getattr(visit, name)) is not None
        },
    }
    if visit.state in (VisitState.MADE, VisitState.VOIDED):
        shown = visit_page(visit, person)
        context |= {"shown": shown, "sheet": shown.sheet}
    if context["inspects"]:
        context["phone"] = waiting_phone(person)
    return render(request, "reports/visit_detail.html", context)


def visit_correct(request: HttpRequest, pk: int) -> HttpResponse:
    """The report as it should have been, and why; checked once more before it is kept."""
    person = person_of(request)
    visit = editable_visit_for(person, pk)
    today, step = today_in(visit.yard), request.POST.get("step", "")
    why = WhyVisitForm(posted(request))
    if request.method != "POST":
        form = correction_form(visit, person, today, typed_of(as_new(visit)))
        return _correct_page(request, form, visit, why)
    form = typed_form(
        flat(request.POST), visit.yard, person, today, step=step, corrects=visit, with_counts=False
    )
    if step in (CHANGE, MORE):
        return _correct_page(request, form, visit, WhyVisitForm(initial={"why": request.POST.get("why", "")}))
    if not all([why.is_valid(), form.is_valid()]):
        return _correct_page(request, form, visit, why)
    form.new = as_drawn_then(form.new, visit)
    made: list[Visit] = []

    def write() -> None:
        reason = why.cleaned_data["why"]
        made.append(
            correct_visit_and_counts(visit=visit, new=form.new, why=reason, at=timezone.now(), by=person)
        )

    if step == KEEP and form.saves(write):
        messages.success(request, say("Report {number} is corrected.", number=made[0].report))
        return redirect("reports:visit-detail", pk=made[0].pk)
    if form.errors:
        return _correct_page(request, form, visit, why)
    return _check_page(request, form, planned=None, why=why.cleaned_data["why"])


def _correct_page(request: HttpRequest, form: VisitForm, visit: Visit, why: WhyVisitForm) -> HttpResponse:
    chosen = to_open(
        visit.yard, on=visit.drawn_on or visit.on, present=visit.colonies_present, draw=visit.draw
    )
    problems = [(f"id_{name}", words) for name, found in why.errors.items() for words in found]
    context = gate_context(form, chosen) | {"yard": visit.yard, "corrected": visit, "why_form": why}
    context["page_errors"] = [*problems, *context["page_errors"]]
    return render(request, "reports/visit_gate.html", context)


def visit_void(request: HttpRequest, pk: int) -> HttpResponse:
    """The visit does not count, nor do its counts; it stays to be seen."""
    person = person_of(request)
    visit = editable_visit_for(person, pk)
    form = WhyVoidForm(posted(request))

    def write() -> None:
        why = form.cleaned_data["why"]
        void_visit_and_counts(visit=visit, why=why, at=timezone.now(), by=person)

    return _why(request, visit, form, write, "reports/visit_void.html", say("The report is struck through."))


def visit_cancel(request: HttpRequest, pk: int) -> HttpResponse:
    """A planned visit is not made."""
    person = person_of(request)
    visit = plannable_visit_for(person, pk)
    form = WhyCancelForm(posted(request))

    def write() -> None:
        cancel_visit(visit=visit, why=form.cleaned_data["why"], at=timezone.now(), by=person)

    return _why(request, visit, form, write, "reports/visit_cancel.html", say("The visit is cancelled."))


def _why(
    request: HttpRequest, visit: Visit, form: Any, write: Callable[[], None], template: str, said: str
) -> HttpResponse:
    if form.is_valid() and form.saves(write):
        messages.success(request, said)
        return redirect("reports:visit-detail", pk=visit.pk)
    return render(request, template, {"form": form, "visit": visit, "yard": visit.yard})
