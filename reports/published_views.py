"""The months as they were published, for the club and for people outside. Gate, presenter, template."""

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from apiaries.access import club_for
from apiaries.language import say
from apiaries.models import Club
from apiaries.permissions import Permission
from apiaries.views.asking import person_of
from reports.access import public_page_with
from reports.actions import close_public_page, open_public_page
from reports.chart_asking import drawing_asked, svg
from reports.charts import SIZES, chart_svg, regions_of
from reports.due_days import local_day
from reports.hiding import hiding_rule, outside_rule, published_uncertain_rule, range_level
from reports.models import PublicPage
from reports.published_form import PublishedForm
from reports.published_page import published_table, published_years, publishing_rule
from reports.replica import may_lag
from reports.standing_alone import ALONE, closed


@require_safe
@may_lag
def region_published(request: HttpRequest) -> HttpResponse:
    """Every region's months side by side, the same for everybody in the club."""
    person = person_of(request)
    club = club_for(person, Permission.REGION_VIEW)
    page = PublicPage.objects.filter(club=club, closed_at=None).first()
    context = {
        "hiding_rule": hiding_rule(),
        "sees_live": person.can(Permission.REGION_VIEW_LIVE),
        "may_open": person.can(Permission.CLUB_EDIT),
        "outside_rule": outside_rule(),
        "address": settings.SITE_URL + reverse("reports:region-outside", args=[page.word]) if page else "",
    }
    return render(request, "reports/published.html", _shown(request, club) | context)


@require_safe
@may_lag
def published_chart(request: HttpRequest) -> HttpResponse:
    """The chart of a year's published months, as SVG, for a light or dark page, wide or narrow."""
    club = club_for(person_of(request), Permission.REGION_VIEW)
    theme, size = drawing_asked(request, SIZES)
    table = published_table(club, *_form(request, club).chosen, at=timezone.now())
    regions = regions_of(table.marks)
    return svg(chart_svg(table.marks, regions=regions, unit=table.unit, theme=theme, size=size))


@require_POST
def outside_open(request: HttpRequest) -> HttpResponse:
    """Show the published months to whoever has an address."""
    person = person_of(request)
    open_public_page(club=club_for(person, Permission.CLUB_EDIT), at=timezone.now(), by=person)
    messages.success(request, say("The published months are shown outside the club, at the address below."))
    return redirect("reports:region-published")


@require_POST
def outside_close(request: HttpRequest) -> HttpResponse:
    """Show them outside no more."""
    person = person_of(request)
    close_public_page(club=club_for(person, Permission.CLUB_EDIT), at=timezone.now(), by=person)
    messages.success(request, say("Nobody outside the club sees the published months any more."))
    return redirect("reports:region-published")


@login_not_required
@require_safe
@may_lag
def outside(request: HttpRequest, word: str) -> HttpResponse:
    """The published months for whoever has the address: the same figures, of fewer cells."""
    club = public_page_with(word).club
    context = ALONE | {"demo": club.is_invented, "hiding_rule": outside_rule()}
    context |= _shown(request, club, outside=True)
    return closed(render(request, "reports/published_outside.html", context))


def _shown(request: HttpRequest, club: Club, *, outside: bool = False) -> dict[str, object]:
    """The form and the table that was asked for."""
    form = _form(request, club)
    table = published_table(club, *form.chosen, at=timezone.now(), outside=outside)
    return {
        "form": form,
        "club": club,
        "table": table,
        "publishing_rule": publishing_rule(),
        "uncertain_rule": published_uncertain_rule(),
        "range_level": range_level(),
    }


def _form(request: HttpRequest, club: Club) -> PublishedForm:
    today = local_day(timezone.now(), club.time_zone)
    return PublishedForm(request.GET, years=published_years(club, today))
