"""The club's bulletins: the archive, one of them as page, chart and paper; for who writes them: draft to withdrawal."""

from django.conf import settings
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from apiaries.access import club_for
from apiaries.forms.base import posted
from apiaries.language import say
from apiaries.permissions import Permission
from apiaries.views.asking import person_of
from apiaries.views.files import paper_asked, pdf_answer
from reports.access import bulletin_for, bulletin_to_write_for, bulletins_of
from reports.bulletin_actions import (
    issue_bulletin,
    make_bulletin,
    mark_of,
    months_coming,
    months_without,
    set_foreword,
    withdraw_bulletin,
)
from reports.bulletin_chart import SIZES, bulletin_svg
from reports.bulletin_forms import DraftForm, ForewordForm, IssueForm, WithdrawForm
from reports.bulletin_page import bulletin_page
from reports.bulletin_pdf import bulletin_pdf
from reports.chart_asking import drawing_asked, svg
from reports.models import Bulletin
from reports.publishing import PUBLISHED_ON

PER_PAGE = 24


@require_safe
def bulletin_list(request: HttpRequest) -> HttpResponse:
    """The archive, the newest month first."""
    person = person_of(request)
    bulletins = bulletins_of(person)
    page = Paginator(bulletins, PER_PAGE).get_page(request.GET.get("page"))
    context = {
        "page": page,
        "rows": [bulletin_page(bulletin) for bulletin in page],
        "may_write": person.can(Permission.BULLETIN_WRITE),
        "published_on": PUBLISHED_ON,
    }
    return render(request, "reports/bulletin_list.html", context)


@require_safe
def bulletin_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """One bulletin, as it was written."""
    person = person_of(request)
    bulletin = bulletin_for(person, pk)
    context = {
        "page": bulletin_page(bulletin),
        "bulletin": bulletin,
        "may_write": person.can(Permission.BULLETIN_WRITE),
    }
    return render(request, "reports/bulletin_detail.html", context)


@require_safe
def bulletin_chart(request: HttpRequest, pk: int) -> HttpResponse:
    """The chart of one kind of count, as SVG, for a light or dark page, wide or narrow."""
    page = bulletin_page(bulletin_for(person_of(request), pk))
    theme, size = drawing_asked(request, SIZES)
    table = next((one for one in page.tables if one.kind.kind == request.GET.get("kind", "")), None)
    if table is None or not table.kind.shown:
        raise Http404
    response = svg(bulletin_svg(table.kind.regions, table.kind.unit, theme=theme, size=size))
    response["Cache-Control"] = "private, max-age=60"
    return response


@require_safe
def bulletin_paper(request: HttpRequest, pk: int) -> HttpResponse:
    """The bulletin on one sheet, A4 or letter."""
    bulletin = bulletin_for(person_of(request), pk)
    paper = paper_asked(request)
    address = settings.SITE_URL + reverse("reports:bulletin-detail", args=[pk])
    made = bulletin_pdf(bulletin_page(bulletin), address=address, paper=paper)
    return pdf_answer(made, f"bulletin-{bulletin.month:%Y-%m}-{paper}")


def bulletin_draft(request: HttpRequest) -> HttpResponse:
    """A draft for a published month that has none."""
    person = person_of(request)
    club = club_for(person, Permission.BULLETIN_WRITE)
    months = months_without(club)
    form = DraftForm(posted(request), months=months)
    if form.is_valid():
        made: list[Bulletin] = []
        if form.saves(
            lambda: made.append(
                make_bulletin(club=club, month=form.month_asked, at=timezone.now(), by=person)
            )
        ):
            messages.success(request, say("Draft written. Members do not see it before it is issued."))
            return redirect("reports:bulletin-detail", pk=made[0].pk)
    context = {"form": form, "months": months, "coming": months_coming(club, at=timezone.now())}
    return render(request, "reports/bulletin_draft.html", context)


def bulletin_foreword(request: HttpRequest, pk: int) -> HttpResponse:
    """The club's own words, before those written by rules."""
    person = person_of(request)
    bulletin = bulletin_to_write_for(person, pk)
    if not bulletin.is_draft:
        return _issued_before(request, bulletin)
    form = ForewordForm(posted(request), initial={"foreword": bulletin.foreword})
    if form.is_valid() and form.saves(
        lambda: set_foreword(bulletin=bulletin, at=timezone.now(), by=person, **form.cleaned_data)
    ):
        messages.success(request, say("Foreword saved."))
        return redirect("reports:bulletin-detail", pk=pk)
    return render(request, "reports/bulletin_foreword.html", _read_again(form, bulletin))


def bulletin_issue(request: HttpRequest, pk: int) -> HttpResponse:
    """It goes to the members as it was read here."""
    person = person_of(request)
    bulletin = bulletin_to_write_for(person, pk)
    if not bulletin.is_draft:
        return _issued_before(request, bulletin)
    form = IssueForm(posted(request))
    if form.is_valid() and form.saves(
        lambda: issue_bulletin(bulletin=bulletin, at=timezone.now(), by=person, **form.cleaned_data)
    ):
        messages.success(request, say("Bulletin issued. Every member can read it from now on."))
        return redirect("reports:bulletin-detail", pk=pk)
    return render(request, "reports/bulletin_issue.html", _read_again(form, bulletin))


def bulletin_withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """It holds no more, and stays in the archive with who and why."""
    person = person_of(request)
    bulletin = bulletin_to_write_for(person, pk)
    if bulletin.is_draft or bulletin.is_withdrawn:
        messages.warning(
            request, say("Only an issued bulletin can be withdrawn, and only once. Nothing was changed.")
        )
        return redirect("reports:bulletin-detail", pk=pk)
    form = WithdrawForm(posted(request))
    if form.is_valid() and form.saves(
        lambda: withdraw_bulletin(
            bulletin=bulletin, why=form.cleaned_data["why"], at=timezone.now(), by=person
        )
    ):
        messages.success(request, say("Bulletin withdrawn. It stays in the archive, struck through."))
        return redirect("reports:bulletin-detail", pk=pk)
    context = {"form": form, "page": bulletin_page(bulletin), "bulletin": bulletin}
    return render(request, "reports/bulletin_withdraw.html", context)


def _issued_before(request: HttpRequest, bulletin: Bulletin) -> HttpResponse:
    messages.warning(request, say("This bulletin was issued. It stays as it is."))
    return redirect("reports:bulletin-detail", pk=bulletin.pk)


def _read_again(form: ForewordForm | IssueForm, bulletin: Bulletin) -> dict[str, object]:
    """The bulletin as it is now, which somebody else may have changed since the form was opened."""
    bulletin.refresh_from_db(fields=["foreword"])
    changed = form.is_bound and form.data.get("seen") != mark_of(bulletin)
    return {
        "form": form,
        "page": bulletin_page(bulletin),
        "bulletin": bulletin,
        "seen": mark_of(bulletin),
        "changed": changed,
    }
