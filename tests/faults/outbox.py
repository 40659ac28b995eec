"""What the outbox and the mailbox say after a test, as one line of figures."""

import datetime as dt

from reports.models import Digest, DigestAttempt, DigestState
from reports.planner import plan_notices
from tests.faults.machinery import Crew, Figure, Sink
from tests.faults.people import keepers

GIVEN = dt.date(2026, 8, 6)  # oxalic acid by vapour: recount from 20 Aug (best at once) to 3 Sep
SAVED = dt.datetime(2026, 8, 8, 18, 0, tzinfo=dt.UTC)
DUE = dt.datetime(2026, 8, 20, 5, 0, tzinfo=dt.UTC)  # 07:00 in Berlin, the hour of the mail
TICK = dt.timedelta(minutes=15)


def planned(number: int, name: str = "Keeper") -> int:
    """So many mails are due at DUE."""
    keepers(number, given_on=[GIVEN], recorded_at=SAVED, name=name)
    return plan_notices(at=DUE)


def waiting() -> int:
    """Mails of which it is not known yet what becomes of them."""
    return Digest.objects.filter(state=DigestState.PENDING).count()


def drain(crew: Crew, start: dt.datetime, *, step: dt.timedelta = dt.timedelta(hours=1)) -> dt.datetime:
    """Let two senders finish what is left, one step of the clock after the other."""
    at = start
    while waiting():
        at += step
        assert at < start + dt.timedelta(days=10), "some are never sent"
        crew.tick(at, plan=False, hands=2)
    return at


def figure(test: str, due: int, sink: Sink, note: str = "") -> Figure:
    """Lost is what was to be sent, is neither refused for good nor withdrawn, and never came."""
    copies = sink.copies()
    closed = (DigestState.DEAD, DigestState.EMPTY, DigestState.EXPIRED)
    wanted = set(Digest.objects.exclude(state__in=closed).values_list("message_id", flat=True))
    tries = DigestAttempt.objects.count()
    return Figure(
        test, due, len(copies), copies.total() - len(copies), len(wanted - set(copies)), tries, note
    )
