"""Follow-ups: what is due after visits, an order done, a laboratory's answer; and the figures of a year."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from apiaries.access import lab_sample_for, visit_order_for, visits_of
from apiaries.actions.visit_follow_up import close_order, note_lab_result, reopen_order
from apiaries.forms.base import posted
from apiaries.language import say
from apiaries.models import VisitOrder
from apiaries.sheet_out import csv_file
from apiaries.views.asking import person_of, today_in
from apiaries.views.files import file_answer
from reports.access import inspected_regions_of
from reports.visit_due import due_of
from reports.visit_plan_form import YearForm
from reports.visit_why import LabResultForm, OrderDoneForm, ReopenForm
from reports.visit_year import CSV_HEADING, csv_rows, year_figures


@require_safe
def follow_up_list(request: HttpRequest) -> HttpResponse:
    """What is late, due and not due yet after visits; or what is done."""
    person = person_of(request)
    visits_of(person)
    done = request.GET.get("show") == "done"
    items = due_of(person, today_in(person), done=done)
    return render(request, "reports/follow_up_list.html", {"items": items, "done": done})


def order_done(request: HttpRequest, pk: int) -> HttpResponse:
    """An order is done; or it is not, after all."""
    order = visit_order_for(person_of(request), pk)
    return _reopened(request, order) if order.done_on is not None else _closed(request, order)


def _closed(request: HttpRequest, order: VisitOrder) -> HttpResponse:
    yard = order.visit.yard
    form = OrderDoneForm(posted(request), today=today_in(yard), since=order.visit.on)
    if form.is_valid() and form.saves(
        lambda: close_order(
            order=order,
            done_on=form.cleaned_data["on"],
            note=form.cleaned_data["note"],
            at=timezone.now(),
            by=person_of(request),
        )
    ):
        messages.success(request, say("The order is noted as done."))
        return redirect("reports:visit-detail", pk=order.visit_id)
    return _page(request, form, order.visit, say("Note an order as done"), order.what)


def _reopened(request: HttpRequest, order: VisitOrder) -> HttpResponse:
    form = ReopenForm(posted(request))
    if form.is_valid() and form.saves(
        lambda: reopen_order(
            order=order, why=form.cleaned_data["why"], at=timezone.now(), by=person_of(request)
        )
    ):
        messages.success(request, say("The order is open again."))
        return redirect("reports:visit-detail", pk=order.visit_id)
    return _page(request, form, order.visit, say("Not done after all"), order.what)


def lab_result(request: HttpRequest, pk: int) -> HttpResponse:
    """What a laboratory answered."""
    sample = lab_sample_for(person_of(request), pk)
    initial = {"result": sample.result, "on": sample.result_on} if sample.result_on else {}
    form = LabResultForm(
        posted(request), today=today_in(sample.visit.yard), since=sample.visit.on, start=initial
    )
    if form.is_valid() and form.saves(
        lambda: note_lab_result(
            sample=sample,
            result_on=form.cleaned_data["on"],
            result=form.cleaned_data["result"],
            at=timezone.now(),
            by=person_of(request),
        )
    ):
        messages.success(request, say("The answer is noted."))
        return redirect("reports:visit-detail", pk=sample.visit_id)
    what = say("Sample {number}: {what}", number=sample.number, what=sample.what)
    return _page(request, form, sample.visit, say("Note the answer of a laboratory"), what)


def _page(request: HttpRequest, form: Any, visit: Any, heading: str, what: str) -> HttpResponse:
    context = {"form": form, "visit": visit, "heading": heading, "what": what}
    return render(request, "reports/visit_note.html", context)


@require_safe
def visit_year(request: HttpRequest) -> HttpResponse:
    """The figures of a calendar year in the inspector's regions, each with its definition."""
    person = person_of(request)
    visits_of(person)
    form = YearForm(request.GET, today=today_in(person))
    figures = year_figures(person, form.chosen_year, today_in(person))
    context = {
        "form": form,
        "figures": figures,
        "regions": inspected_regions_of(person),
        "year": form.chosen_year,
    }
    return render(request, "reports/visit_year.html", context)


@require_safe
def visit_year_csv(request: HttpRequest) -> HttpResponse:
    """The same as a file, definitions beside."""
    person = person_of(request)
    visits_of(person)
    form = YearForm(request.GET, today=today_in(person))
    figures = year_figures(person, form.chosen_year, today_in(person))
    file = csv_file(CSV_HEADING, csv_rows(figures))
    return file_answer(file, "text/csv; charset=utf-8", f"visits-{form.chosen_year}.csv")
