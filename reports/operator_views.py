"""Pages for whoever runs the server. Each: gate, presenter, template."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from apiaries.language import mark, say
from apiaries.views.asking import person_of
from apiaries.zones import zone_of
from reports.access import given_up_mail_for, operator_of
from reports.again import Again, send_again
from reports.operator_page import LISTED_DAYS, given_up, given_up_mails, numbers, outages, suspended_addresses
from reports.server_page import chains_verified, hosts, reasons, versions, work_rows
from reports.watched import GIVEN_UP_DAYS, backlog, backups, outbox

PER_PAGE = 25
ANSWERS = {
    Again.WAITS: mark("The mail to {email} waits again and leaves within their hours."),
    Again.LIFTED: mark(
        "The mail to {email} waits again and leaves within their hours. Their address had refused mail and was "
        "suspended: it is written to again."
    ),
    Again.NOT_DEAD: mark(
        "The mail to {email} was not given up, or waits again already: nothing was changed."
    ),
    Again.NO_USE: mark("What the mail to {email} tells would come too late by now: it is not sent again."),
}


@require_safe
def server(request: HttpRequest) -> HttpResponse:
    """How this server stands: mails, work, sheets, backups, versions."""
    reader, at = operator_of(person_of(request)), timezone.now()
    of_mails, (backup, failed), (some_hosts, more) = outbox(at=at), backups(), hosts()
    context = {
        "outbox": of_mails,
        "reasons": reasons(of_mails.given_up),
        "listed_days": GIVEN_UP_DAYS,
        "works": work_rows(at=at),
        "hosts": some_hosts,
        "more_hosts": more,
        "backlog": backlog(),
        "backup": backup,
        "backup_failed": failed,
        "chains": chains_verified(),
        "versions": versions(),
        "clock": zone_of(reader.time_zone),
    }
    return render(request, "reports/operator_server.html", context)


@require_safe
def mails(request: HttpRequest) -> HttpResponse:
    """How the mails of this server stand."""
    reader, at = operator_of(person_of(request)), timezone.now()
    page = Paginator(given_up_mails(at=at), PER_PAGE).get_page(request.GET.get("page"))
    now, past = outages(at=at)
    context = {
        "numbers": numbers(at=at),
        "outage": now,
        "past_outages": past,
        "page": page,
        "given_up": [given_up(digest, at=at, zone=reader.time_zone) for digest in page],
        "suspended": suspended_addresses(),
        "listed_days": LISTED_DAYS,
        "clock": zone_of(reader.time_zone),
    }
    return render(request, "reports/operator_mails.html", context)


@require_POST
def mail_again(request: HttpRequest, pk: int) -> HttpResponse:
    """One more try for a mail that was given up."""
    operator = person_of(request)
    digest = given_up_mail_for(operator, pk)
    came_to = send_again(digest=digest, at=timezone.now(), by=operator)
    level = messages.SUCCESS if came_to in (Again.WAITS, Again.LIFTED) else messages.WARNING
    messages.add_message(request, level, say(ANSWERS[came_to], email=digest.person.email))
    return redirect("reports:operator-mails")
