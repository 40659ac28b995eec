"""Whether mails go out in time, asked of what is due and not of any process: one may run and be deaf."""

import datetime as dt

from django.db.models import Min, Q

from apiaries.models import AccountNotice
from reports.circuit import open_outage
from reports.digests import opening_for
from reports.due_days import instant_of, local_day
from reports.models import Digest, DigestState
from reports.owed import owed_notices, reachable_yards
from reports.planner import last_run, unplanned

LATELY = dt.timedelta(minutes=20)
"""Somebody plans every fifteen minutes (`config.celery`), which takes a minute for a country."""
MOST_KEEPERS = 500
"""Of so many it is worked out what they are owed, in about a second."""


def oldest_due(*, at: dt.datetime) -> dt.datetime | None:
    """Since when the oldest mail has been due: planned and not sent, or owed and not even planned; None if none.

    A mail that a server put off is due again when its time comes; one that waits for a person's hours, when these
    begin. What could not leave because of an outage stays due meanwhile.

    A few queries, however many keepers there are: strangers and monitors ask.
    """
    asked = (_unsent_since(at), _kept_back_since(at), _about_accounts(at), _unplanned_since(at))
    return min((moment for moment in asked if moment is not None), default=None)


def _unplanned_since(at: dt.datetime) -> dt.datetime | None:
    """Since when the oldest has been owed that is not even planned.

    Nothing, where somebody planned lately: what was not owed then can be due since then at the earliest, and is no
    alarm yet. Where nobody did, it is worked out for a club. For a country that would take a minute, in which nobody
    who asks is answered: there it counts that nobody planned, as somebody will be owed something.
    """
    planned_at = last_run()
    if planned_at is not None and at - planned_at <= LATELY:
        return None
    yards = reachable_yards().filter(Q(keeper__wants_mail=True) | Q(keeper__wants_calls=True))
    keepers = yards.order_by().values("keeper").distinct()
    if len(keepers[: MOST_KEEPERS + 1]) > MOST_KEEPERS:
        since: dt.datetime | None = planned_at or yards.aggregate(first=Min("made_at"))["first"]
        return since
    moments = []
    for owed in unplanned(owed_notices(at=at)):
        day = max(owed.due.on, local_day(owed.matter.known_at, owed.person.time_zone))
        sent_on_its_day = Digest.objects.filter(person=owed.person, on__gte=day).exists()
        due_at = instant_of(day, owed.person.mail_at, owed.person.time_zone)
        due_at = opening_for(owed.person, max(due_at, owed.matter.known_at, planned_at or due_at))
        if due_at <= at and not sent_on_its_day:
            moments.append(due_at)
    return min(moments, default=None)


def _unsent_since(at: dt.datetime) -> dt.datetime | None:
    waiting = Digest.objects.filter(state=DigestState.PENDING, next_at__lte=at, person__suspension=None)
    first: dt.datetime | None = waiting.aggregate(first=Min("next_at"))["first"]
    return first


def _kept_back_since(at: dt.datetime) -> dt.datetime | None:
    """Since when an outage has kept a mail, of those whose hour has come, from leaving."""
    outage = open_outage()
    if outage is None:
        return None
    waiting = Digest.objects.filter(state=DigestState.PENDING, send_at__lte=at, person__suspension=None)
    first = waiting.aggregate(first=Min("send_at"))["first"]
    return max(first, outage.since) if first else None


def _about_accounts(at: dt.datetime) -> dt.datetime | None:
    """The same of mails about changes of accounts, which wait for nobody's hour."""
    first: dt.datetime | None = AccountNotice.objects.due(at).aggregate(first=Min("next_at"))["first"]
    return first
