"""The first page, what people put off on it, and the link in a mail that does the same."""

import datetime as dt

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from apiaries.access import recordable_yard_for
from apiaries.language import say
from apiaries.models import Colony, Person, Yard
from apiaries.permissions import Permission
from apiaries.second_lock import reader_is
from apiaries.templatetags.recount_words import weekday_day
from apiaries.views.asking import limited, person_of, today_in
from counts.models import MiteSample
from reports.actions import NoTimeLeft, bring_back, put_off
from reports.links import Later, later_of_token
from reports.models import Suspension
from reports.standing_alone import ALONE, closed
from reports.today import TodayItem, item_about, open_yards, today_in_yards
from reports.today_club import club_today


@require_safe
def today(request: HttpRequest) -> HttpResponse:
    """What to do next, over all yards of the person or in one."""
    person = person_of(request)
    on = today_in(person)
    yard = _asked_yard(request, person)
    yards = open_yards(person, yard=yard)
    listed = today_in_yards(yards, person, on)
    context = {
        "items": listed.now,
        "put_off": listed.put_off,
        "on": on,
        "yard": yard,
        "yards": yards if len(yards) > 1 else [],
        "club_today": None if yards or yard else club_today(person, on, at=timezone.now()),
        "may_add": person.can(Permission.YARD_CREATE),
        "first": _first_step(person) if not listed.all and yard is None else None,
    }
    return render(request, "reports/today.html", context)


@require_POST
def today_later(request: HttpRequest) -> HttpResponse:
    """Put one thing off for three days."""
    person = person_of(request)
    item = _item_or_404(request, person)
    try:
        until = put_off(person=person, matter=item.matter, at=timezone.now(), by=person).until
    except NoTimeLeft:
        messages.error(request, say("It cannot wait for three days: there is no use in it by then."))
        return _back(request)
    messages.success(request, _told_again(item, until, today_in(person)))
    return _back(request)


@require_POST
def today_now(request: HttpRequest) -> HttpResponse:
    """Bring something put off back to the list."""
    person = person_of(request)
    item = _item_or_404(request, person)
    if bring_back(person=person, subject=item.matter.subject, by=person):
        messages.success(request, say("Back on the list."))
    return _back(request)


@login_not_required
@limited("entry_link")
@require_http_methods(["GET", "HEAD", "POST"])
def mail_later(request: HttpRequest, token: str) -> HttpResponse:
    """The same by the signed link in a mail. Looking changes nothing, because link scanners look."""
    at = timezone.now()
    later = later_of_token(token, at=at)
    if later is None:
        raise Http404
    reader_is(later.person.pk)  # to the end of the request
    item = _open_item(later, at)
    if item is not None and item.can_wait and request.method == "POST":
        put_off(person=later.person, matter=item.matter, at=at, by=later.person)
        return closed(redirect(request.path))
    context = ALONE | {
        "item": item,
        "demo": item is not None and item.matter.yard.club.is_invented,
    }
    return closed(render(request, "reports/mail_later.html", context, status=200 if item else 410))


def _open_item(later: Later, at: dt.datetime) -> TodayItem | None:
    """What the link is about, while it is open and its reader is somebody who gets mail."""
    person = later.person
    if not person.is_active or Suspension.objects.filter(person=person).exists():
        return None
    return item_about(person, later.subject, today_in(person))


def _asked_yard(request: HttpRequest, person: Person) -> Yard | None:
    """The one yard that the address asks for."""
    asked = request.GET.get("yard", "")
    if not asked:
        return None
    if not asked.isdecimal() or len(asked) > len(str(2**31)):
        raise Http404
    return recordable_yard_for(person, int(asked))


def _item_or_404(request: HttpRequest, person: Person) -> TodayItem:
    item = item_about(person, request.POST.get("subject", ""), today_in(person))
    if item is None:
        raise Http404
    return item


def _told_again(item: TodayItem, until: dt.date, today: dt.date) -> str:
    last = item.matter.last_on
    words = say("Put off: it comes back on {day}.", day=weekday_day(until))
    if last is None or not today <= last < until:
        return words
    return " ".join([words, say("Its last day is {day}, before that.", day=weekday_day(last))])


def _back(request: HttpRequest) -> HttpResponse:
    """To the page it was asked from: the first page or a yard's."""
    target = request.POST.get("next", "")
    # A word without a slash would be taken for the name of a page.
    if target.startswith("/") and url_has_allowed_host_and_scheme(target, allowed_hosts=None):
        return HttpResponseRedirect(target)
    return redirect("reports:today")


def _first_step(person: Person) -> str:
    """What somebody with nothing due can do: the word that the page knows."""
    mine = Yard.objects.recordable_by(person).filter(closed_on=None)
    if person.membership is None:
        return "no_club"
    if not mine.exists():
        return "add_yard"
    if not Colony.objects.living().filter(yard__in=mine).exists():
        return "add_colonies"
    return "nothing" if MiteSample.objects.filter(yard__in=mine).exists() else "count"
