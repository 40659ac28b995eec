"""What is said about a sheet, and its rows: headings, answers, missing colonies, agreeing, the file of problems."""

from dataclasses import replace
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from apiaries.forms.base import PageForm, posted
from apiaries.language import say, say_many
from apiaries.sheet_out import csv_file
from apiaries.views.asking import person_of
from apiaries.views.files import file_answer
from counts.access import import_for
from counts.forms.import_answers import HeadingsForm, SheetAnswersForm
from counts.forms.imports import NOT_NOW, MissingColoniesForm, TakenForForm
from counts.imports.actions import (
    NewColony,
    NotNow,
    agree_to_rows,
    answer_about_sheet,
    look_again,
    remember_headings,
    set_up_missing,
    take_agreement_back,
)
from counts.imports.missing import missing_of
from counts.imports.places import yards_of
from counts.imports.presenting import kinds_of, shown, texts_of
from counts.imports.problem_rows import problem_rows
from counts.imports.reasons import SHORT, Kind
from counts.imports.said import Said, said_in
from counts.imports.working import read_batch
from counts.models import ImportBatch, ImportState, RowStatus
from counts.views_imports import on_to

PER_PAGE = 25


def import_file(request: HttpRequest, pk: int) -> HttpResponse:
    """What the file is taken for: sheet, encoding, sign between columns, row of the headings."""
    batch = import_for(person_of(request), pk)
    if not _may_be_asked(batch):
        return _not_now(request, batch)
    form = TakenForForm(posted(request), batch=batch)
    if form.is_valid():
        # Other headings are other columns: what was said of the old ones no longer holds.
        said = replace(said_in(batch.choices), columns=None, **form.choices())
        if (answer := _said(request, form, batch, said)) is not None:
            return answer
    return render(request, "counts/import_file.html", {"form": form, "batch": batch})


def import_headings(request: HttpRequest, pk: int) -> HttpResponse:
    """What each column holds."""
    person = person_of(request)
    batch = import_for(person, pk)
    if not _may_be_asked(batch):
        return _not_now(request, batch)
    form = HeadingsForm(posted(request), batch=batch)
    if form.is_valid():
        said = replace(said_in(batch.choices), columns=form.meanings())
        if form.cleaned_data["remember"] and (told := form.to_remember()):
            remember_headings(club=batch.club, meanings=told, at=timezone.now(), by=person)
        if (answer := _said(request, form, batch, said)) is not None:
            return answer
    return render(request, "counts/import_headings.html", {"form": form, "batch": batch})


def import_answers(request: HttpRequest, pk: int) -> HttpResponse:
    """What rows leave open, said once for the whole sheet."""
    person = person_of(request)
    batch = import_for(person, pk)
    if not _may_be_asked(batch):
        return _not_now(request, batch)
    said = said_in(batch.choices)
    form = SheetAnswersForm(
        posted(request),
        batch=batch,
        said=said,
        asked=_asked(batch, said),
        method_words=texts_of(batch, Kind.METHOD_UNKNOWN),
        yard_names=texts_of(batch, Kind.YARD_UNKNOWN) + texts_of(batch, Kind.YARD_TWICE),
        yards=[yard for yard in yards_of(person, batch.keeper) if yard.closed_on is None],
    )
    if form.is_valid():
        answer = _said(request, form, batch, replace(said, **form.answers()))
        if answer is not None:
            return answer
    return render(request, "counts/import_answers.html", {"form": form, "batch": batch})


def import_colonies(request: HttpRequest, pk: int) -> HttpResponse:
    """Set up colonies that the sheet names, one by one agreed to."""
    person = person_of(request)
    batch = import_for(person, pk)
    if batch.state != ImportState.LOOK:
        return _not_now(request, batch)
    missing, more = missing_of(batch, person)
    form = MissingColoniesForm(
        posted(request),
        missing=missing,
        initial={"why_gone": say("Not noted: known from a sheet of counts.")},
    )
    if missing and form.is_valid():
        told = form.cleaned_data
        chosen = [
            NewColony(one.yard, one.name, one.first, one.last if told[f"colony_{at}"] == "gone" else None)
            for at, one in enumerate(missing)
            if told[f"colony_{at}"]
        ]
        if form.saves(lambda: set_up_missing(colonies=chosen, why_gone=told["why_gone"], by=person)):
            words = say_many("{n} colony set up.", "{n} colonies set up.", len(chosen))
            messages.success(request, words)
            read_batch(look_again(batch=batch, by=person), at_once=True)
            return redirect("counts:import-detail", pk=pk)
    context = {"form": form, "batch": batch, "missing": missing, "more": more}
    return render(request, "counts/import_colonies.html", context)


@require_safe
def import_rows(request: HttpRequest, pk: int) -> HttpResponse:
    """Every row as it was understood, with its reasons; by status and by kind of reason."""
    batch = import_for(person_of(request), pk)
    status = request.GET.get("status", "")
    kind = request.GET.get("kind", "")
    rows = batch.staged.select_related("colony", "yard")
    if status in RowStatus.values:
        rows = rows.filter(status=status)
    if kind in SHORT:
        rows = rows.filter(kinds__contains=[kind])
    page = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
    context = {
        "batch": batch,
        "page": page,
        "rows": shown(page),
        "statuses": RowStatus.choices,
        "status": status,
        "kind": kind,
        "kinds": kinds_of(batch),
        "may_agree": batch.state == ImportState.LOOK,
    }
    return render(request, "counts/import_rows.html", context)


@require_POST
def import_agree(request: HttpRequest, pk: int) -> HttpResponse:
    """Say that rows which needed a look are right: one, or all with one kind of question; or take it all back."""
    person = person_of(request)
    batch = import_for(person, pk)
    number, kind = request.POST.get("row", ""), request.POST.get("kind", "")
    try:
        if "back" in request.POST:
            take_agreement_back(batch=batch, by=person)
            messages.success(request, say("All of it taken back: these rows need a look again."))
        elif kind in SHORT and kind != Kind.NOT_COUNTED:
            n = agree_to_rows(batch=batch, kinds=[kind], by=person)
            messages.success(request, say_many("Agreed to {n} row.", "Agreed to {n} rows.", n))
        elif number.isascii() and number.isdigit() and len(number) < 8:
            n = agree_to_rows(batch=batch, numbers=[int(number)], by=person)
            messages.success(request, say_many("Agreed to {n} row.", "Agreed to {n} rows.", n))
    except NotNow:
        messages.warning(request, str(NOT_NOW))
    if request.POST.get("from") == "rows":
        answer = redirect("counts:import-rows", pk=pk)
        answer["Location"] += "?status=look"
        return answer
    return redirect("counts:import-detail", pk=pk)


@require_safe
def import_problems_csv(request: HttpRequest, pk: int) -> HttpResponse:
    """The rows that are not brought in, cell by cell as they stand, each with what became of it and why."""
    batch = import_for(person_of(request), pk)
    heading, rows = problem_rows(batch)
    return file_answer(
        csv_file(heading, rows), "text/csv; charset=utf-8", f"rows-not-brought-in-{batch.pk}.csv"
    )


def _asked(batch: ImportBatch, said: Said) -> list[str]:
    """Boxes for what the rows leave open, and for what was said before."""
    kinds = {one.kind for one in kinds_of(batch)}
    asked = {
        "order": batch.taken_for.get("order_open") or said.order is not None,
        "method": Kind.METHOD_MISSING in kinds or said.method is not None,
        "measure": Kind.BEES_MISSING in kinds or said.measure is not None,
        "treated": Kind.TREATED_UNKNOWN in kinds or said.treated is not None,
        "yard": Kind.YARD_MISSING in kinds or said.yard is not None,
    }
    return [name for name, is_asked in asked.items() if is_asked]


def _said(request: HttpRequest, form: PageForm, batch: ImportBatch, said: Said) -> Any:
    """Keep what was said, read the sheet again, and go on; None, with an error in the form, where that is refused."""
    if not form.saves(lambda: answer_about_sheet(batch=batch, said=said, by=person_of(request))):
        return None
    batch.refresh_from_db()
    read_batch(batch, at_once=True)
    batch.refresh_from_db()
    return on_to(request, batch)


def _may_be_asked(batch: ImportBatch) -> bool:
    return batch.state in (ImportState.LOOK, ImportState.FAILED) and bool(batch.taken_for)


def _not_now(request: HttpRequest, batch: ImportBatch) -> HttpResponse:
    messages.warning(request, str(NOT_NOW))
    return redirect("counts:import-detail", pk=batch.pk)
