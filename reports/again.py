"""One more try for a mail that was given up."""

import datetime as dt
from enum import StrEnum

from apiaries.history import action
from apiaries.language import mark
from apiaries.models import Person
from reports.digests import leaving_for
from reports.models import Digest, DigestAttempt, DigestState, Suspension

AGAIN = "again"
"""The outcome of an entry among the tries that is no try: somebody asked for one more."""

ASKED_FOR_BY = "asked for by "
CONSOLE = mark("the server's console")
"""Who asked is kept behind these words, which the page says in the reader's language."""


class Again(StrEnum):
    """What came of asking."""

    WAITS = "waits"
    """It leaves at the person's next hour."""
    LIFTED = "lifted"
    """The same, and its address, which had refused mail, is written to again."""
    NOT_DEAD = "not_dead"
    """It was not given up, or waits again already."""
    NO_USE = "no_use"
    """What it tells would come too late."""


@action
def send_again(*, digest: Digest, at: dt.datetime, by: Person | None) -> Again:
    """Let a mail that could not be delivered wait again, as if it were due now. Twice is harmless.

    The tries so far stay; a mail that could not be written is given up again after one more.
    """
    locked = Digest.objects.select_for_update(of=("self",)).select_related("person").get(pk=digest.pk)
    if locked.state == DigestState.EXPIRED:
        return Again.NO_USE
    if locked.state != DigestState.DEAD:
        return Again.NOT_DEAD
    leaves = leaving_for(locked.person, at)
    if leaves >= locked.useless_after:
        return Again.NO_USE
    locked.state, locked.next_at = DigestState.PENDING, leaves
    locked.save(update_fields=["state", "next_at"])
    asked_by = by.email if by is not None else CONSOLE
    DigestAttempt.objects.create(
        digest=locked, started_at=at, outcome=AGAIN, detail=f"{ASKED_FOR_BY}{asked_by}"
    )
    lifted, _ = Suspension.objects.filter(person=locked.person).delete()
    return Again.LIFTED if lifted else Again.WAITS
