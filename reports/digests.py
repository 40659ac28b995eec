"""The one mail of a person's day: which day it belongs to, and the instants at which it may leave."""

import datetime as dt
import hashlib
from urllib.parse import urlsplit

from django.conf import settings
from django.db.models import Q, QuerySet

from apiaries.models import Person
from reports.due_days import end_of_day, instant_of, local_day
from reports.models import Digest, DigestState
from reports.quiet import next_opening


def opening_for(person: Person, moment: dt.datetime) -> dt.datetime:
    """The earliest instant at or after a moment at which the person may be written to."""
    return next_opening(moment, zone=person.time_zone, mail_at=person.mail_at, quiet_days=person.quiet_days)


def leaving_for(person: Person, at: dt.datetime) -> dt.datetime:
    """The same for a mail that is waiting: not on a day on which the person had theirs."""
    leaves, today = opening_for(person, at), local_day(at, person.time_zone)
    if local_day(leaves, person.time_zone) != today or not had_mail(person, today):
        return leaves
    return opening_for(person, end_of_day(today, person.time_zone))


def due_digests(at: dt.datetime) -> "QuerySet[Digest]":
    """Whose turn it is. An address that refuses mail gets none, but what is of no use any more is given up."""
    reachable = Q(person__suspension=None) | Q(useless_after__lte=at)
    return Digest.objects.filter(reachable, state=DigestState.PENDING, next_at__lte=at)


def had_mail(person: Person, on: dt.date) -> bool:
    """Whether a mail left to the person on that day of theirs."""
    zone = person.time_zone
    of_the_day = Q(sent_at__gte=instant_of(on, dt.time.min, zone), sent_at__lt=end_of_day(on, zone))
    return Digest.objects.filter(of_the_day, person=person).exists()


def next_try(digest: Digest, moment: dt.datetime) -> dt.datetime:
    """When to try after a moment; at the end of its use at the latest, when it is given up for all to see."""
    return min(opening_for(digest.person, moment), max(digest.useless_after, moment))


def add_digest(person: Person, *, at: dt.datetime, useless_after: dt.datetime) -> None:
    """A mail of the first day from now on that has none and is not quiet. Two planners at once make one.

    Planned after its hour it counts as due since then: it is late, and the health page says so.
    """
    on = local_day(_first_free(person, at), person.time_zone)
    send_at = opening_for(person, instant_of(on, dt.time.min, person.time_zone))
    digest = Digest(
        person=person,
        on=on,
        send_at=send_at,
        next_at=send_at,
        useless_after=useless_after,
        message_id=message_id_of(person, on),
    )
    Digest.objects.bulk_create([digest], ignore_conflicts=True)


def _first_free(person: Person, at: dt.datetime) -> dt.datetime:
    """The first opening on a day to which no mail belongs and on which none left."""
    zone = person.time_zone
    today = local_day(at, zone)
    past = Digest.objects.filter(person=person)
    near = past.filter(Q(on__gte=today) | Q(sent_at__gte=instant_of(today, dt.time.min, zone)))
    taken = set()
    for on, sent_at in near.values_list("on", "sent_at"):
        taken |= {on, local_day(sent_at, zone)} if sent_at else {on}
    leaves = opening_for(person, at)
    while (on := local_day(leaves, zone)) in taken:
        leaves = opening_for(person, end_of_day(on, zone))
    return leaves


def message_id_of(person: Person, on: dt.date) -> str:
    """The Message-ID of a person's mail of a day: the same however often it is sent."""
    digest = hashlib.sha256(f"digest:{person.pk}:{on.isoformat()}".encode()).hexdigest()[:32]
    return f"<{digest}@{urlsplit(settings.SITE_URL).hostname}>"
