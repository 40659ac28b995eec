"""Whether mails go out in time, asked of what is due and not of any process: one may run and be deaf."""

import datetime as dt

from django.db.models import Min

from reports.due_days import instant_of, local_day
from reports.models import Digest, DigestState
from reports.owed import owed_notices
from reports.planner import unplanned


def oldest_due(*, at: dt.datetime) -> dt.datetime | None:
    """Since when the oldest mail has been due: planned and not sent, or owed and not even planned; None if none.

    A mail that a server put off is due again when its time comes.
    """
    waiting = Digest.objects.filter(state=DigestState.PENDING, next_at__lte=at, person__suspension=None)
    unsent = waiting.aggregate(first=Min("next_at"))["first"]
    moments = [unsent] if unsent else []
    for owed in unplanned(owed_notices(at=at)):
        day = max(owed.due.on, local_day(owed.matter.known_at, owed.person.time_zone))
        sent_on_its_day = Digest.objects.filter(person=owed.person, on__gte=day).exists()
        due_at = instant_of(day, owed.person.mail_at, owed.person.time_zone)
        due_at = max(due_at, owed.matter.known_at)
        if due_at <= at and not sent_on_its_day:
            moments.append(due_at)
    return min(moments, default=None)
