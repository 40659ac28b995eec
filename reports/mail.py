"""The daily mail: what to recount, by when and why, as text and HTML."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.conf import settings
from django.core.mail import EmailMultiAlternatives
from django.template.loader import render_to_string
from django.urls import reverse

from apiaries.templatetags.recount_words import MONTHS, WEEKDAYS
from reports.due_days import Stage, local_day
from reports.links import entry_url, stop_token
from reports.models import Digest, Notice
from reports.owed import Owed
from treatments.status import TreatmentStatus


@dataclass(frozen=True)
class Line:
    """One recount in the mail."""

    owed: Owed
    what: str
    url: str
    unfinished: bool
    """The treatment is not noted as finished: the recount's day may move."""


def digest_mail(
    digest: Digest, told: Sequence[tuple[Notice, Owed]], *, at: dt.datetime
) -> EmailMultiAlternatives:
    """The mail with these notices, each with what it is about."""
    person = digest.person
    today = local_day(at, person.time_zone)
    meant_for = min(notice.on for notice, _ in told)
    stop_url = settings.SITE_URL + reverse("reports:mail-stop", args=[stop_token(person)])
    context = {
        "person": person,
        "lines": [_line(owed, at=at) for _, owed in told],
        "late_since": meant_for if _is_late(digest, [notice for notice, _ in told], today) else None,
        "headline": headline([owed for _, owed in told]),
        "stop_url": stop_url,
        "me_url": settings.SITE_URL + reverse("apiaries:me"),
        "invented": told[0][1].recount.treatment.yard.club.is_invented,
    }
    subject = render_to_string("reports/mail/digest_subject.txt", context)
    message = EmailMultiAlternatives(
        subject=" ".join(subject.split()),  # nobody's words may start a new heading line
        body=render_to_string("reports/mail/digest.txt", context),
        to=[person.email],
        headers={
            "Message-ID": digest.message_id,
            "Auto-Submitted": "auto-generated",
            "List-Unsubscribe": f"<{stop_url}>",
            "List-Unsubscribe-Post": "List-Unsubscribe=One-Click",
        },
    )
    message.attach_alternative(render_to_string("reports/mail/digest.html", context), "text/html")
    return message


def headline(told: Sequence[Owed]) -> str:
    """What and by when, without any place: a subject can be read on a locked screen."""
    first = min(told, key=lambda owed: owed.recount.latest_on)
    by = short_day(first.recount.latest_on)
    number = sum(owed.colonies for owed in told)
    colonies = "1 colony" if number == 1 else f"{number} colonies"
    late = first.due.stage is Stage.LATE
    if len(told) > 1:
        return f"{len(told)} recounts, the first {'late since' if late else 'by'} {by} ({colonies})"
    if late:
        return f"Recount late since {by} ({colonies})"
    return f"Recount {'due' if first.due.stage is Stage.DUE else 'coming up'}: by {by} ({colonies})"


def short_day(on: dt.date) -> str:
    """A day of this season: Sat 22 Aug."""
    return f"{WEEKDAYS[on.weekday()]} {on.day} {MONTHS[on.month - 1]}"


def _is_late(digest: Digest, notices: Sequence[Notice], today: dt.date) -> bool:
    """Whether the mail comes after the day it was meant for, or was planned after a notice's day."""
    zone = digest.person.time_zone
    return today > digest.on or any(local_day(notice.planned_at, zone) > notice.on for notice in notices)


def _line(owed: Owed, *, at: dt.datetime) -> Line:
    what = {Stage.SOON: "Recount coming up", Stage.DUE: "Recount due", Stage.LATE: "Recount late"}
    treatment = owed.recount.treatment
    return Line(
        owed=owed,
        what=what[owed.due.stage],
        url=entry_url(owed.recount, owed.person, at=at),
        unfinished=treatment.status(local_day(at, owed.person.time_zone)) is not TreatmentStatus.FINISHED,
    )
