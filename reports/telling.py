"""What of a planned mail still holds when it is sent."""

import datetime as dt

from reports.matters import MatterKind
from reports.models import NEWS, Digest, Notice
from reports.owed import Owed, owed_about


def still_to_tell(digest: Digest, *, at: dt.datetime) -> list[tuple[Notice, Owed]]:
    """The notices of a mail about things to do that still hold, the most urgent first; the others are withdrawn now.

    Asked inside the sending transaction: a recount entered a moment ago, a treatment cancelled, a person gone or
    one who wants no more mail.
    """
    to_do = digest.notices.filter(withdrawn_at=None).exclude(kind__in=NEWS)
    notices = list(to_do.select_related("person"))
    by_key = {owed.key: owed for owed in owed_about(notices, at=at)}
    told, over = [], []
    for notice in notices:
        owed = by_key.get((notice.person_id, notice.kind, notice.subject, notice.on))
        if owed is None:
            over.append(notice.pk)
        else:
            told.append((notice, owed))
    if over:
        Notice.objects.filter(pk__in=over).update(withdrawn_at=at)
    return sorted(told, key=lambda pair: (_is_news(pair[1]), _by(pair[1]), pair[0].pk))


def _is_news(owed: Owed) -> bool:
    """A clear date asks for nothing: it stands behind what does."""
    return owed.matter.kind is MatterKind.CLEAR


def _by(owed: Owed) -> dt.date:
    """The day by which it is to be done."""
    return owed.matter.last_on or owed.due.on
