"""What a clock that ran ahead left behind."""

import datetime as dt

from django.db import transaction
from django.db.models import OuterRef, Subquery

from reports.models import Digest, DigestAttempt, DigestState

AHEAD = dt.timedelta(minutes=10)
"""The clocks of machines at work differ by less (our choice)."""


@transaction.atomic
def forget_waits_from_ahead(*, at: dt.datetime) -> int:
    """Mails whose last try is in the future wait by a clock that was wrong: they are due now. How many."""
    last = DigestAttempt.objects.filter(digest=OuterRef("pk")).order_by("-pk").values("started_at")[:1]
    waiting = Digest.objects.filter(state=DigestState.PENDING, send_at__lte=at, next_at__gt=at)
    ahead = waiting.annotate(tried_at=Subquery(last)).filter(tried_at__gt=at + AHEAD)
    pks = list(ahead.select_for_update(of=("self",), skip_locked=True).values_list("pk", flat=True))
    return Digest.objects.filter(pk__in=pks).update(next_at=at) if pks else 0
