"""The page of one's calendar addresses, and the feed that a calendar program reads there."""

from hashlib import sha256

from allauth.core.ratelimit import consume_or_429
from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, HttpResponseNotModified
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import parse_etags
from django.utils.translation import override
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from apiaries.access import recordable_yard_for
from apiaries.language import say
from apiaries.models import Person, Yard
from apiaries.views.asking import person_of, today_in
from apiaries.views.sent_once import is_first_sending, new_form_key
from reports.access import feed_for, feed_with, feeds_of
from reports.actions import make_calendar_feed, revoke_calendar_feed
from reports.calendar_events import feed_events
from reports.calendar_text import calendar_text


@require_safe
def calendar(request: HttpRequest) -> HttpResponse:
    """One's addresses, without their words."""
    return _listed(request, person_of(request))


def _listed(request: HttpRequest, person: Person, word: str = "") -> HttpResponse:
    feeds = list(feeds_of(person))
    single = [feed.yard_id for feed in feeds if feed.yard_id is not None]
    yards = Yard.objects.recordable_by(person).filter(closed_on=None).exclude(pk__in=single)
    address = settings.SITE_URL + reverse("reports:calendar-feed", args=[word]) if word else ""
    context = {
        "feeds": feeds,
        "yards": yards,
        "for_all": len(single) == len(feeds),
        "address": address,
        "key": new_form_key(),
    }
    return render(request, "reports/calendar.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def calendar_make(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    """A new address for all yards, or for one in which the person may log; it replaces the old one.

    The answer to the form shows it, so that it is kept nowhere on the way. A browser that loads that answer again sends
    the form again, with the key that was minted when it opened: no second address ends the one that was just copied.
    """
    person = person_of(request)
    yard = None if pk is None else recordable_yard_for(person, pk)
    if request.method != "POST":  # another language was chosen where the address stood
        return redirect("reports:calendar")
    if not is_first_sending(request, person, f"calendar-{pk}"):
        messages.warning(
            request,
            say("This address is made already and is not shown again. If you have no copy, make it anew."),
        )
        return redirect("reports:calendar")
    word = make_calendar_feed(person=person, yard=yard, at=timezone.now(), by=person)
    return _listed(request, person, word)


@require_POST
def calendar_revoke(request: HttpRequest, pk: int) -> HttpResponse:
    """The address stops working."""
    person = person_of(request)
    revoke_calendar_feed(feed=feed_for(person, pk), at=timezone.now(), by=person)
    messages.success(request, say("The address no longer works."))
    return redirect("reports:calendar")


@login_not_required
@require_safe
def calendar_feed(request: HttpRequest, token: str) -> HttpResponse:
    """The feed, for whoever has its address."""
    refused = consume_or_429(request, action="calendar", limit_get=True)
    if refused is not None:
        return refused
    feed = feed_with(token)
    with override(feed.person.language):  # a calendar program speaks none
        events = feed_events(feed, today=today_in(feed.person))
    body = calendar_text(events, name="Recount")
    etag = f'"{sha256(body).hexdigest()}"'
    response = (
        HttpResponseNotModified()
        if _is_known(request, etag)
        else HttpResponse(body, content_type="text/calendar; charset=utf-8")
    )
    response["ETag"] = etag
    response["Cache-Control"] = "private, no-cache"  # may be kept by who asked, and is asked about each time
    # Names are typed by people: a browser that is led here keeps a file and shows no page.
    response["Content-Disposition"] = 'attachment; filename="recount.ics"'
    response["Referrer-Policy"] = "no-referrer"
    return response


def _is_known(request: HttpRequest, etag: str) -> bool:
    """Whether the asker has this very text; weak and strong compare alike here (RFC 9110, from memory)."""
    known = {one.removeprefix("W/") for one in parse_etags(request.headers.get("If-None-Match", ""))}
    return "*" in known or etag in known
