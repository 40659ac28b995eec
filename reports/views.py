"""Pages of this app. Each: gate, presenter, template."""

import datetime as dt
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import cached_property

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.core.cache import cache
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.safestring import SafeString
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from apiaries.access import club_for
from apiaries.kept_pages import kept, kept_page, token_place
from apiaries.language import say
from apiaries.models import Club, Region
from apiaries.permissions import Permission
from apiaries.second_lock import as_the_service
from apiaries.views.asking import person_of
from reports.actions import lift_suspension, stop_mails
from reports.chart_asking import drawing_asked, svg
from reports.charts import SIZES, chart_svg, regions_of
from reports.due_days import local_day
from reports.forms import RegionMonthForm
from reports.health import oldest_due
from reports.hiding import hiding_rule, range_level, uncertain_rule
from reports.links import stop_of_token
from reports.map_chart import WIDTHS, map_svg
from reports.pausing import open_pause
from reports.presenters import RegionTable, region_table
from reports.region_choice import Choice
from reports.region_kept import KEPT_FOR, Standing, region_names, standing_of
from reports.region_map import RegionMap, region_map
from reports.replica import may_lag
from reports.standing_alone import ALONE, closed

LATE_MINUTES = 15
HEALTH_KEPT = 20  # seconds: an open page that costs a query or two


@require_safe
@may_lag
def region_month(request: HttpRequest) -> HttpResponse:
    """Every region's months side by side, or one region's in full; for members, the months as published."""
    if not person_of(request).can(Permission.REGION_VIEW_LIVE):
        return redirect("reports:region-published")
    page = _page(request)
    as_it_stands = f"{page.standing.as_of} {page.standing.waiting_since}"

    def draw() -> str:
        if not page.form.is_valid():  # odd questions are without number
            raise _Mistaken
        main = kept(
            page.kept_as(f"main {as_it_stands}"), lambda: _main(request, page)
        )  # the same for everybody
        context = {"main": SafeString(main), "csrf_token": token_place()}
        return render_to_string("reports/region_month.html", context, request=request)

    try:
        return kept_page(request, page.kept_as(f"page {as_it_stands}"), draw)
    except _Mistaken:
        return render(
            request, "reports/region_month.html", {"main": _main(request, page), "page_errors": True}
        )


class _Mistaken(Exception):
    """The page says what is wrong with the question, and is not kept."""


def _main(request: HttpRequest, page: "_Page") -> SafeString:
    """Everything between head and foot."""
    context = {
        "form": page.form,
        "choice": page.choice,
        "club": page.club,
        "standing": page.standing,
        "table": page.table,
        "map": page.map(),
        "hiding_rule": hiding_rule(),
        "uncertain_rule": uncertain_rule(),
        "range_level": range_level(),
    }
    return render_to_string("reports/_region_main.html", context, request=request)


@require_safe
@may_lag
def region_chart(request: HttpRequest) -> HttpResponse:
    """The chart of what the page shows, as SVG, for a light or dark page, wide or narrow."""
    page = _page(request)
    theme, size = _drawing(request, page, SIZES)

    def drawn() -> str:
        marks, unit = page.table.marks, page.table.unit
        return chart_svg(marks, regions=regions_of(marks), unit=unit, theme=theme, size=size)

    response = svg(cache.get_or_set(page.kept_as(f"chart {theme} {size}"), drawn, KEPT_FOR))
    response["Cache-Control"] = "private, max-age=60"
    return response


@require_safe
@may_lag
def region_map_chart(request: HttpRequest) -> HttpResponse:
    """The map of the page's month, as SVG, for a light or dark page, wide or narrow."""
    page = _page(request)
    theme, size = _drawing(request, page, WIDTHS)

    def drawn() -> str:
        shown = page.map()
        if shown is None:
            raise Http404
        return map_svg(shown, theme=theme, size=size)

    return svg(cache.get_or_set(page.kept_as(f"map {theme} {size}"), drawn, KEPT_FOR))


@login_not_required
@csrf_exempt
@require_http_methods(["GET", "HEAD", "POST"])
def mail_stop(request: HttpRequest, token: str) -> HttpResponse:
    """Stop somebody's mails of one kind, by the signed link in it: a mail program posts here without a cookie.

    Looking changes nothing, because link scanners look.
    """
    stop = stop_of_token(token)
    if stop is None:
        raise Http404
    if request.method == "POST":
        stop_mails(person=stop.person, kind=stop.kind, by=stop.person)
    context = ALONE | {"stop": stop, "stopped": not stop.is_wanted}
    return closed(render(request, "reports/mail_stop.html", context), referrer="no-referrer")


@require_POST
def mail_again(request: HttpRequest) -> HttpResponse:
    """The reader's own address works again: mail is sent there from now on."""
    person = person_of(request)
    if lift_suspension(person=person, by=person):
        messages.success(request, say("Mail goes to {email} again.", email=person.email))
    return redirect("apiaries:me")


@login_not_required
@never_cache
@require_safe
def healthz_reminders(request: HttpRequest) -> HttpResponse:
    """Whether mails go out: 503 once something has been due for more than 15 minutes, or while sending is paused."""
    minutes = cache.get("healthz-reminders")
    if minutes is None:
        at = timezone.now()
        with as_the_service():  # a stranger asks, and is told a number
            since = oldest_due(at=at)
        minutes = 0 if since is None else int((at - since) / dt.timedelta(minutes=1))
        cache.set("healthz-reminders", minutes, HEALTH_KEPT)
    if open_pause() is not None:
        return JsonResponse({"oldest_due_minutes": minutes, "paused": True}, status=503)
    return JsonResponse({"oldest_due_minutes": minutes}, status=503 if minutes > LATE_MINUTES else 200)


@dataclass(frozen=True)
class _Page:
    """What the page and its two pictures show. What is kept already is found without any of it being worked out."""

    club: Club
    standing: Standing
    today: dt.date
    asked: Mapping[str, str]

    @cached_property
    def regions(self) -> list[Region]:
        return list(self.club.regions.order_by("name"))

    @cached_property
    def form(self) -> RegionMonthForm:
        """What may be asked for. A region of another club does not exist here."""
        form = RegionMonthForm(self.asked, club=self.club, regions=self.regions, today=self.today)
        if "region" in form.errors:
            raise Http404
        return form

    @cached_property
    def choice(self) -> Choice:
        return self.form.choice()

    @cached_property
    def table(self) -> RegionTable:
        return region_table(self.choice, self.regions, self.form.offer, today=self.today)

    def map(self) -> RegionMap | None:
        return region_map(self.table, self.asked.get("map", ""), today=self.today, regions=self.regions)

    def kept_as(self, drawing: str) -> str:
        named = (*RegionMonthForm.base_fields, "map")
        asked = {name: self.asked[name] for name in named if self.asked.get(name)}
        return self.standing.of_page(asked, today=self.today, drawing=drawing)


def _page(request: HttpRequest) -> _Page:
    """What the address asks for."""
    person = person_of(request)
    club = club_for(person, Permission.REGION_VIEW_LIVE)
    standing = standing_of(club, region_names(club), person.time_zone)
    return _Page(club, standing, local_day(timezone.now(), person.time_zone), request.GET)


def _drawing(request: HttpRequest, page: _Page, sizes: Collection[str]) -> tuple[str, str]:
    """Theme and size of a picture of the page; a picture of what cannot be asked for does not exist."""
    if not page.form.is_valid():
        raise Http404
    return drawing_asked(request, sizes)
