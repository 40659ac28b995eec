"""The page behind the button of a mail: open to whoever has the link, and only to what the link allows."""

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from apiaries.forms.base import posted
from apiaries.reference import cautions
from apiaries.second_lock import reader_is
from apiaries.views.asking import limited
from counts.measuring import half_cup_figures
from counts.samples import Method
from reports.actions import LinkShut, count_by_link
from reports.entry_access import Entry, Shut, entry_with
from reports.entry_form import EntryForm
from reports.standing_alone import ALONE, closed

STATUS = {Shut.UNKNOWN: 404, Shut.OVER: 410, Shut.COUNTED: 200}


@login_not_required
@limited("entry_link")
@require_http_methods(["GET", "HEAD", "POST"])
def recount_entry(request: HttpRequest, token: str) -> HttpResponse:
    """One recount's counts, by the signed link in a mail. Looking changes nothing, because link scanners look."""
    at = timezone.now()
    entry = entry_with(token, at=at)
    if isinstance(entry, Shut):
        return _shut(request, entry)
    reader_is(entry.person.pk)  # to the end of the request
    form = EntryForm(posted(request), entry=entry)
    try:
        if form.is_valid() and form.saves(
            lambda: count_by_link(token=token, entry=entry, counts=form.counts, at=at, by=entry.person)
        ):
            return closed(redirect(f"{request.path}?saved={len(form.counts)}"))
    except LinkShut:  # answered by somebody else a moment ago: the page says so
        return closed(redirect(request.path))
    return _form(request, form, entry)


def _form(request: HttpRequest, form: EntryForm, entry: Entry) -> HttpResponse:
    yard = entry.recount.treatment.yard
    context = ALONE | {
        "form": form,
        "formset": form.rows,
        "yard": yard,
        "recount": entry.recount,
        "demo": yard.club.is_invented,
        "saved": "saved" in request.GET and request.method != "POST",
        "half_cup": half_cup_figures(),
        "flame": [row["sentence"] for row in cautions() if row["where"] == Method.ALCOHOL_WASH],
    }
    return closed(render(request, "reports/recount_entry.html", context))


def _shut(request: HttpRequest, why: Shut) -> HttpResponse:
    context = ALONE | {"why": why.value}
    response = render(request, "reports/recount_entry_shut.html", context, status=STATUS[why])
    return closed(response, referrer="no-referrer")
