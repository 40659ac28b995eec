"""The page behind the button of a mail: open to whoever has the link, and only to what the link allows."""

from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.models import AnonymousUser
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from apiaries.forms.base import posted
from apiaries.reference import cautions
from apiaries.views.asking import limited
from counts.measuring import half_cup_figures
from counts.samples import Method
from reports.actions import LinkShut, count_by_link
from reports.entry_access import Entry, Shut, entry_with
from reports.entry_form import EntryForm

STATUS = {Shut.UNKNOWN: 404, Shut.OVER: 410, Shut.COUNTED: 200}
ALONE = {
    "user": AnonymousUser(),  # whoever reads it: the page is the link's, not theirs
    "nav": [],
    "messages": [],
    "demo": False,
    "help_url": "",
    "who_sees_url": "",
    "cautions_url": "",
    "account_url": "",
}
"""What base.html knows of a reader, all of it nothing."""


@login_not_required
@limited("entry_link")
@require_http_methods(["GET", "HEAD", "POST"])
def recount_entry(request: HttpRequest, token: str) -> HttpResponse:
    """One recount's counts, by the signed link in a mail. Looking changes nothing, because link scanners look."""
    at = timezone.now()
    entry = entry_with(token, at=at)
    if isinstance(entry, Shut):
        return _shut(request, entry)
    form = EntryForm(posted(request), entry=entry)
    try:
        if form.is_valid() and form.saves(
            lambda: count_by_link(token=token, entry=entry, counts=form.counts, at=at, by=entry.person)
        ):
            return _closed(redirect(f"{request.path}?saved={len(form.counts)}"))
    except LinkShut:  # answered by somebody else a moment ago: the page says so
        return _closed(redirect(request.path))
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
    return _closed(render(request, "reports/recount_entry.html", context))


def _shut(request: HttpRequest, why: Shut) -> HttpResponse:
    context = ALONE | {"why": why.value}
    response = render(request, "reports/recount_entry_shut.html", context, status=STATUS[why])
    return _closed(response, referrer="no-referrer")


def _closed(response: HttpResponse, *, referrer: str = "same-origin") -> HttpResponse:
    """Kept nowhere, and its address told to no other site.

    The form's page cannot say "no-referrer": browsers would then send the form with the origin "null", which the
    check against forged forms refuses.
    """
    response["Cache-Control"] = "private, no-store"
    response["Referrer-Policy"] = referrer
    response["X-Robots-Tag"] = "noindex"
    return response
