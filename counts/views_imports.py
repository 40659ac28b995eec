"""Sheets that are brought in: sending one, looking at it, bringing it in, undoing it."""

import datetime as dt

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from apiaries.access import membership_of
from apiaries.forms.base import posted
from apiaries.language import say, say_many
from apiaries.models import Person, Yard
from apiaries.templatetags.recount_words import day
from apiaries.views.asking import limited, person_of
from counts.access import import_for
from counts.forms.imports import NOT_NOW, SheetForm, UndoSheetForm
from counts.imports.actions import (
    ChangedMeanwhile,
    NothingReady,
    NotNow,
    put_sheet_aside,
    take_in_sheet,
    wanted,
)
from counts.imports.doing import bring_in
from counts.imports.missing import missing_of
from counts.imports.presenting import (
    headings_of,
    kinds_of,
    notes_about,
    progress_of,
    shown,
    taken_for_words,
)
from counts.imports.refusing import refusal_words
from counts.imports.said import Said
from counts.imports.undoing import UNDO_DAYS, undo_sheet, voidable_of
from counts.imports.working import read_batch
from counts.models import ImportBatch, ImportState
from counts.presenters import moment

PER_PAGE, PREVIEW = 20, 20


@require_safe
def import_list(request: HttpRequest) -> HttpResponse:
    """The sheets that this person brought, the newest first."""
    person = person_of(request)
    batches = ImportBatch.objects.visible_to(person).select_related("undone_by")
    page = Paginator(batches, PER_PAGE).get_page(request.GET.get("page"))
    context = {"page": page, "any": bool(page), "may_add": _covered(person).exists()}
    return render(request, "counts/import_list.html", context)


@limited("import")
def import_add(request: HttpRequest) -> HttpResponse:
    """Send a sheet. Nothing of it counts before somebody has looked at it."""
    person = person_of(request)
    club = membership_of(person).club
    yards = list(_covered(person))
    if not yards:
        return render(request, "counts/import_add.html", {"yards": yards, "club": club})
    form = SheetForm(posted(request), request.FILES or None, club=club)
    if not form.is_valid():
        return render(request, "counts/import_add.html", {"form": form, "yards": yards})
    batch = take_in_sheet(
        club=club,
        name=form.cleaned_data["file"].name,
        data=form.contents,
        said=Said(),
        at=timezone.now(),
        by=person,
    )
    read_batch(batch, at_once=True, table=form.table)
    return on_to(request, batch)


@require_safe
def import_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """One sheet: what it was taken for, what became of its rows, and what can be done now."""
    person = person_of(request)
    batch = import_for(person, pk)
    context = {
        "batch": batch,
        "refusal": refusal_words(batch.refusal),
        "taken_for": taken_for_words(batch),
        "notes": notes_about(batch),
        "progress": progress_of(batch),
        "earlier": _same_before(batch),
    }
    if batch.state == ImportState.LOOK:
        missing, more = missing_of(batch, person)
        context |= {
            "unclear": _unclear(batch),
            "headings": headings_of(batch),
            "kinds": kinds_of(batch),
            "preview": shown(batch.staged.select_related("colony", "yard")[:PREVIEW]),
            "wanted": wanted(batch).count(),
            "missing": len(missing) + more,
        }
    if batch.state in (ImportState.IN, ImportState.UNDONE):
        left = batch.counts.filter(sample__voided_at__isnull=False)
        if batch.state == ImportState.UNDONE:
            left = batch.counts.filter(Q(sample__voided_at=None) | ~Q(sample__voided_at=batch.undone_at))
        context["left"] = left.select_related("sample__colony", "sample__yard").order_by("sample")[:50]
        stay = left.count()
        context |= {"left_count": stay, "voided_count": batch.brought - stay}
        until = (batch.brought_at or batch.at) + dt.timedelta(days=UNDO_DAYS)
        context |= {
            "undo_until": until,
            "may_undo": batch.state == ImportState.IN and timezone.now() <= until,
        }
        context["has_rows"] = batch.staged.exists()
    return render(request, "counts/import_detail.html", context)


@require_POST
def import_bring_in(request: HttpRequest, pk: int) -> HttpResponse:
    """Make the counts of all rows that are ready, or of none."""
    batch = import_for(person_of(request), pk)
    try:
        brought = bring_in(batch, at=timezone.now())
    except NotNow:
        messages.warning(request, str(NOT_NOW))
    except NothingReady:
        messages.warning(request, say("No row of this sheet is ready. Nothing was brought in."))
    except ChangedMeanwhile:
        pass  # the batch keeps the reason, and its page tells it
    else:
        if brought.state == ImportState.IN:
            n = brought.brought
            messages.success(request, say_many("{n} count brought in.", "{n} counts brought in.", n))
    return redirect("counts:import-detail", pk=pk)


@require_POST
def import_put_aside(request: HttpRequest, pk: int) -> HttpResponse:
    """Bring nothing in."""
    batch = import_for(person_of(request), pk)
    try:
        put_sheet_aside(batch=batch, by=person_of(request))
    except NotNow:
        messages.warning(request, str(NOT_NOW))
        return redirect("counts:import-detail", pk=pk)
    messages.success(request, say("Sheet put aside. Nothing of it was brought in."))
    return redirect("counts:import-list")


def import_undo(request: HttpRequest, pk: int) -> HttpResponse:
    """Void all counts that a sheet brought in."""
    person = person_of(request)
    batch = import_for(person, pk)
    if batch.state != ImportState.IN:
        messages.warning(request, say("This sheet was not brought in, or is undone. Nothing was changed."))
        return redirect("counts:import-detail", pk=pk)
    form = UndoSheetForm(posted(request))
    if form.is_valid() and form.saves(
        lambda: undo_sheet(batch=batch, why=form.cleaned_data["why"], at=timezone.now(), by=person)
    ):
        messages.success(request, say("Sheet undone. Its counts stay to be seen, struck through."))
        return redirect("counts:import-detail", pk=pk)
    changed = batch.counts.filter(sample__voided_at__isnull=False).count()
    mine = voidable_of(batch, person).count()
    context = {"form": form, "batch": batch, "changed": changed, "mine": mine}
    context["not_mine"] = batch.brought - changed - mine
    return render(request, "counts/import_undo.html", context)


def on_to(request: HttpRequest, batch: ImportBatch) -> HttpResponse:
    """After a sheet was read: to the first thing that must be asked, else to the sheet itself."""
    if batch.state == ImportState.LOOK and _unclear(batch):
        return redirect("counts:import-headings", pk=batch.pk)
    if (
        batch.state == ImportState.LOOK
        and batch.taken_for.get("order_open")
        and not batch.choices.get("order")
    ):
        return redirect("counts:import-answers", pk=batch.pk)
    if (earlier := _same_before(batch)) is not None:
        words = say(
            "You sent this very file on {day}, too. Rows that came in then are here already.",
            day=day(moment(earlier.at, person_of(request))),
        )
        messages.warning(request, words)
    return redirect("counts:import-detail", pk=batch.pk)


def _unclear(batch: ImportBatch) -> bool:
    """Whether its headings must be asked about before any row can be understood."""
    return bool(batch.taken_for.get("unclear")) and batch.choices.get("columns") is None


def _same_before(batch: ImportBatch) -> ImportBatch | None:
    same = ImportBatch.objects.filter(by=batch.by_id, sha256=batch.sha256, at__lte=batch.at)
    return same.exclude(pk=batch.pk).exclude(state=ImportState.REFUSED).first()


def _covered(person: Person) -> "QuerySet[Yard]":
    """Yards that a sheet of this person's may be about."""
    return (
        Yard.objects.recordable_by(person)
        .filter(closed_on=None)
        .select_related("keeper")
        .order_by("name", "pk")
    )
