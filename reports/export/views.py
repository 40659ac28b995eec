"""Taking everything along, and bringing it back."""

from __future__ import annotations

from allauth.core.ratelimit import consume_or_429
from django.contrib import messages
from django.db import models
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from apiaries.access import club_for
from apiaries.bringing_back import CannotBringBack
from apiaries.forms.base import posted
from apiaries.language import say
from apiaries.models import Person
from apiaries.permissions import Permission
from apiaries.views.asking import limited, person_of
from reports.export.actions import GoneMeanwhile, bring_in, give_up_file, keep_returned_file
from reports.export.files import sent, waiting_file
from reports.export.forms import RegionsForm, ReturnedForm, TakeForm
from reports.export.page import held, title_of, told_of, what_it_holds
from reports.export.reading import Trouble, read_export
from reports.export.returning import region_names, try_out
from reports.export.writing import ENDINGS, MEDIA_TYPES, Form, TooManyRows, write_export
from reports.models import ReturnedFile


@require_safe
def take_everything(request: HttpRequest) -> HttpResponse:
    """What there is to take, and in which form."""
    person = person_of(request)
    return _take_page(request, person, TakeForm())


@require_safe
def take_file(request: HttpRequest) -> HttpResponseBase:
    """The file itself: made whole before the first byte is sent."""
    person = person_of(request)
    refused = consume_or_429(request, action="export", limit_get=True)
    if refused is not None:
        return refused
    asked = TakeForm(request.GET if "form" in request.GET else {"form": Form.CSV.value})
    if not asked.is_valid():
        return _take_page(request, person, asked)
    form, at = Form(asked.cleaned_data["form"]), timezone.now()
    file = waiting_file()
    try:
        write_export(person, form, file, at=at, mark=not asked.cleaned_data["without_mark"])
    except TooManyRows:
        file.close()
        asked.add_error(
            "form", say("There are more rows than a sheet of a workbook can hold. Choose CSV or JSON.")
        )
        return _take_page(request, person, asked)
    return sent(file, f"recount-{at.date().isoformat()}.{ENDINGS[form]}", MEDIA_TYPES[form])


def _take_page(request: HttpRequest, person: Person, form: TakeForm) -> HttpResponse:
    context = {
        "form": form,
        "tables": what_it_holds(person),
        "may_bring_back": person.can(Permission.YARD_CREATE),
    }
    return render(request, "reports/take_everything.html", context)


@limited("export")
def bring_back(request: HttpRequest) -> HttpResponse:
    """A file comes back: it is read and tried out, and what it holds is shown; nothing is written yet."""
    person = person_of(request)
    club = club_for(person, Permission.YARD_CREATE)
    form = ReturnedForm(posted(request), request.FILES or None)
    troubles: list[Trouble] = []
    if form.is_valid():
        package, at = form.package, timezone.now()
        regions = RegionsForm(club=club, names=region_names(package)).guessed()
        brought, troubles = try_out(package=package, regions=regions, person=person, at=at)
        if brought is not None and any(brought.rows.values()):
            told = told_of(package, brought)
            keep_returned_file(person=person, content=form.content, told=told, at=at, by=person)
            return redirect("reports:bring-back-look")
        if not troubles:
            form.add_error("file", say("Nothing in this file is yours to bring back."))
    context = {
        "form": form,
        "troubles": [(title_of(one.table), one) for one in troubles],
        "waiting": _open_files(person).exists(),
    }
    return render(request, "reports/bring_back.html", context)


def _open_files(person: Person) -> models.QuerySet[ReturnedFile]:
    return ReturnedFile.objects.filter(person=person, brought_at=None)


def bring_back_look(request: HttpRequest) -> HttpResponse:
    """What the file holds; a yes brings all of it in."""
    person = person_of(request)
    club = club_for(person, Permission.YARD_CREATE)
    file = get_object_or_404(_open_files(person))
    package = read_export(bytes(file.content))
    form = RegionsForm(posted(request), club=club, names=region_names(package))
    troubles: list[Trouble] = []
    if form.is_valid():
        at = timezone.now()
        try:
            bring_in(file=file, package=package, regions=form.regions(), at=at, by=person)
        except GoneMeanwhile:
            return redirect("reports:bring-back")
        except CannotBringBack as error:
            troubles = [Trouble(error.row.table, error.row.number, error.column, str(error))]
        else:
            messages.success(request, say("Brought in: everything that the file holds of yours."))
            return redirect("apiaries:yard-list")
    context = {
        "form": form,
        "told": file.told,
        "held": held(file.told),
        "troubles": [(title_of(one.table), one) for one in troubles],
    }
    return render(request, "reports/bring_back_look.html", context)


@require_POST
def bring_back_give_up(request: HttpRequest) -> HttpResponse:
    """The file goes; nothing of it was written."""
    person = person_of(request)
    club_for(person, Permission.YARD_CREATE)
    give_up_file(person=person, by=person)
    return redirect("reports:bring-back")
