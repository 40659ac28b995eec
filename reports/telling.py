"""What of a planned mail still holds when it is sent."""

import datetime as dt

from reports.models import Digest, Notice
from reports.owed import Owed, owed_for, reachable_recounts, recount_pk_of


def still_to_tell(digest: Digest, *, at: dt.datetime) -> list[tuple[Notice, Owed]]:
    """The notices of a mail that still hold, the most urgent first; the others are withdrawn now.

    Asked inside the sending transaction: a recount entered a moment ago, a treatment cancelled, a person gone or
    one who wants no more mail.
    """
    notices = list(digest.notices.filter(withdrawn_at=None))
    recounts = reachable_recounts().filter(pk__in=[recount_pk_of(notice.subject) for notice in notices])
    by_key = {owed.key: owed for owed in owed_for(recounts, at=at)}
    told, over = [], []
    for notice in notices:
        owed = by_key.get((notice.person_id, notice.kind, notice.subject, notice.on))
        if owed is None:
            over.append(notice.pk)
        else:
            told.append((notice, owed))
    Notice.objects.filter(pk__in=over).update(withdrawn_at=at)
    return sorted(told, key=lambda pair: (pair[1].recount.latest_on, pair[0].pk))
