"""The daily mail: what is to be done, by when and why, as text and HTML."""

import datetime as dt
from collections.abc import Sequence

from django.conf import settings
from django.core.mail import EmailMultiAlternatives
from django.template.loader import render_to_string
from django.urls import reverse

from apiaries.language import day_month_words, mark, say, say_as, say_many, weekday_short
from apiaries.models import Club
from reports.bulletin_pieces import month_words
from reports.due_days import Stage, local_day
from reports.links import MailKind, stop_token
from reports.mail_lines import colonies, line_of
from reports.matters import MatterKind
from reports.models import Bulletin, Digest, Notice
from reports.owed import Owed
from reports.visit_notices import VisitNews


def digest_mail(
    digest: Digest,
    told: Sequence[tuple[Notice, Owed]],
    *,
    at: dt.datetime,
    bulletins: Sequence[Bulletin] = (),
    visits: Sequence[VisitNews] = (),
) -> EmailMultiAlternatives:
    """The mail with these notices, each with what it is about, and a line for each visit and bulletin.

    In the language that is spoken as it is written: the sender speaks the person's.
    """
    person = digest.person
    lines = [line_of(owed, at=at) for _, owed in told]
    stops = _stops(digest, [owed for _, owed in told], bulletins, visits)
    context = {
        "person": person,
        "lines": lines,
        "any_to_do": any(owed.matter.kind is not MatterKind.CLEAR for _, owed in told),
        "any_signed": any(line.signed for line in lines),
        "late_since": _late_since(digest, [notice for notice, _ in told], at),
        "headline": _headline(told, bulletins, visits),
        "news": [
            *((one.words, one.url) for one in visits),
            *((_news_of(one), _url_of(one)) for one in bulletins),
        ],
        "stops": stops,
        "me_url": settings.SITE_URL + reverse("apiaries:me"),
        "invented": _club_of(told, bulletins, visits).is_invented,
    }
    subject = render_to_string("reports/mail/digest_subject.txt", context)
    message = EmailMultiAlternatives(
        subject=" ".join(subject.split()),  # nobody's words may start a new heading line
        body=render_to_string("reports/mail/digest.txt", context),
        to=[person.email],
        headers={
            "Message-ID": digest.message_id,
            "Auto-Submitted": "auto-generated",
            "List-Unsubscribe": f"<{stops[0][1]}>",
            "List-Unsubscribe-Post": "List-Unsubscribe=One-Click",
        },
    )
    message.attach_alternative(render_to_string("reports/mail/digest.html", context), "text/html")
    return message


STOP_WORDS = {
    MailKind.REMINDERS: mark("Stop mails about recounts and treatments"),
    MailKind.CALLS: mark("Stop calls for counts"),
    MailKind.BULLETINS: mark("Stop lines about bulletins"),
}


def _club_of(
    told: Sequence[tuple[Notice, Owed]], bulletins: Sequence[Bulletin], visits: Sequence[VisitNews]
) -> Club:
    if told:
        return told[0][1].matter.yard.club
    return visits[0].club if visits else bulletins[0].club


def _headline(
    told: Sequence[tuple[Notice, Owed]], bulletins: Sequence[Bulletin], visits: Sequence[VisitNews]
) -> str:
    """Without any place: a subject can be read on a locked screen."""
    if told:
        return headline([owed for _, owed in told])
    return say("News of an inspector’s visit") if visits else _headline_of_bulletin(bulletins[-1])


def _stops(
    digest: Digest, told: Sequence[Owed], bulletins: Sequence[Bulletin], visits: Sequence[VisitNews]
) -> list[tuple[str, str]]:
    """Words and address that stop each kind of mail in this one; the first also stands in its headings."""
    calls = {owed.matter.kind.is_call for owed in told}
    kinds = [MailKind.REMINDERS] * (False in calls or bool(visits)) + [MailKind.CALLS] * (True in calls)
    kinds += [MailKind.BULLETINS] * bool(bulletins)
    return [
        (
            say(STOP_WORDS[kind]),
            settings.SITE_URL + reverse("reports:mail-stop", args=[stop_token(digest.person, kind)]),
        )
        for kind in kinds
    ]


def _headline_of_bulletin(bulletin: Bulletin) -> str:
    return say("The club’s bulletin for {month}", month=month_words(bulletin.month))


def _news_of(bulletin: Bulletin) -> str:
    return say("The club’s bulletin for {month} is there", month=month_words(bulletin.month))


def _url_of(bulletin: Bulletin) -> str:
    return settings.SITE_URL + reverse("reports:bulletin-detail", args=[bulletin.pk])


def headline(told: Sequence[Owed]) -> str:
    """What and by when, without any place: a subject can be read on a locked screen.

    A clear date asks for nothing, so that it stands behind what does.
    """
    to_do = [owed for owed in told if owed.matter.kind is not MatterKind.CLEAR]
    if not to_do:
        return _headline_of_one(told[0])
    words = _headline_of_one(to_do[0]) if len(to_do) == 1 else _headline_of_many(to_do)
    return say("{headline}; clear date reached", headline=words) if len(to_do) < len(told) else words


def _headline_of_many(told: Sequence[Owed]) -> str:
    first = min(told, key=lambda owed: owed.matter.last_on or owed.due.on)
    by = short_day(first.matter.last_on or first.due.on)
    kinds = {owed.matter.kind for owed in told}
    if len(kinds) == 1 and first.matter.kind.is_call and len({owed.due.stage for owed in told}) == 1:
        yards = say_many("{n} yard", "{n} yards", len(told))
        return say(_HEADLINES[first.matter.kind, first.due.stage], by=by, colonies=yards)
    what = (
        say_many("{n} recount", "{n} recounts", len(told))
        if kinds == {MatterKind.RECOUNT}
        else say_many("{n} thing to do", "{n} things to do", len(told))
    )
    if first.due.stage is Stage.LATE and first.matter.kind is not MatterKind.WEEK:
        return say("{what}, the first late since {day}", what=what, day=by)
    return say("{what}, the first by {day}", what=what, day=by)


_HEADLINES = {
    (MatterKind.RECOUNT, Stage.SOON): mark("Recount coming up: by {by} ({colonies})"),
    (MatterKind.RECOUNT, Stage.DUE): mark("Recount due: by {by} ({colonies})"),
    (MatterKind.RECOUNT, Stage.LATE): mark("Recount late since {by} ({colonies})"),
    (MatterKind.ROUND, Stage.SOON): mark("Round coming up: {by} ({colonies})"),
    (MatterKind.ROUND, Stage.DUE): mark("Round due: {by} ({colonies})"),
    (MatterKind.ROUND, Stage.LATE): mark("Round late: it was for {by} ({colonies})"),
    (MatterKind.OUT, Stage.SOON): mark("To take out soon: {by} ({colonies})"),
    (MatterKind.OUT, Stage.DUE): mark("To take out: {by} ({colonies})"),
    (MatterKind.OUT, Stage.LATE): mark("To take out: late since {by} ({colonies})"),
    (MatterKind.CLEAR, Stage.DUE): mark("Clear date reached: {by} ({colonies})"),
    (MatterKind.COUNT, Stage.DUE): mark("Count asked for: by {by} ({colonies})"),
    (MatterKind.COUNT, Stage.LATE): mark("Count not made yet: it was for {by} ({colonies})"),
    (MatterKind.WEEK, Stage.DUE): mark("Count week: by {by} ({colonies})"),
    (MatterKind.WEEK, Stage.LATE): mark("Count week ends: by {by} ({colonies})"),
}


def _headline_of_one(owed: Owed) -> str:
    by = short_day(owed.matter.last_on or owed.due.on)
    return say(_HEADLINES[owed.matter.kind, owed.due.stage], by=by, colonies=colonies(owed))


def short_day(on: dt.date) -> str:
    """A day of this season: Sat 22 Aug."""
    return say_as(
        "a day with its weekday",
        "{weekday} {day}",
        weekday=weekday_short(on.weekday()),
        day=day_month_words(on),
    )


def _late_since(digest: Digest, notices: Sequence[Notice], at: dt.datetime) -> dt.date | None:
    """The day for which the mail was meant, if it comes after its day or was planned after a notice's day."""
    caught_up = [notice.on for notice in notices if notice.caught_up]
    if local_day(at, digest.person.time_zone) > digest.on:
        caught_up.append(digest.on)
    return min(caught_up, default=None)
