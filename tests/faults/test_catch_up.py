"""R11, R17: after days of standstill one mail each that says so; a thousand on one morning, and how long they take."""

import datetime as dt
import statistics
import time
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from django.db import connection

from reports.models import Digest, DigestState
from reports.planner import plan_notices
from reports.sender import Outcome, send_due
from tests.faults.machinery import Crew, Figure, Sink, sized, wait_until
from tests.faults.outbox import DUE, GIVEN, SAVED, TICK, figure
from tests.faults.people import due_now, keepers
from tests.faults.workers import open_celeries
from treatments.constants import DEFAULTS

pytestmark = [pytest.mark.slow, pytest.mark.django_db(transaction=True)]

DAY = dt.timedelta(days=1)
LATE_FOR = dt.timedelta(days=14 + int(DEFAULTS.after_count_late_days.value))  # from due to the end of its use


def test_three_days_of_standstill_end_in_one_mail_each(crew: Crew, sink: Sink, figures: list[Figure]) -> None:
    """50 keepers with 10 recounts, due while nothing ran; and 5 whose mail had waited and is of no use any more."""
    days = [GIVEN + (number % 3) * DAY for number in range(10)]
    people = keepers(50, given_on=days, recorded_at=SAVED)
    gone = GIVEN - LATE_FOR + DAY  # of use until the second day of the standstill
    spent = keepers(5, given_on=[gone], recorded_at=SAVED - LATE_FOR, name="Spent")
    sink.order(up=False)
    crew.tick(DUE - 12 * dt.timedelta(hours=1))  # the last thing that ran: the mail server was away
    assert Digest.objects.count() == len(spent)
    sink.order(up=True)

    back = DUE + 3 * DAY
    crew.tick(back, hands=3)
    crew.tick(back + TICK)  # a mail that one of them was planning is not sent by another in the same moment

    note = f"{len(people)} mails told {10 * len(people)} recounts; {len(spent)} of no use any more, listed as such"
    found = figure("R11: three days of standstill", 10 * len(people), sink, note)
    figures.append(found)
    assert Counter(mail["to"] for mail in sink.taken) == {person.email: 1 for person in people}
    for mail in sink.taken:
        assert "late" in mail["text"] and "20 Aug" in mail["text"]
        assert len({line for line in mail["text"].splitlines() if "/recount" in line}) == 10
    expired = Digest.objects.filter(state=DigestState.EXPIRED)
    assert {digest.person for digest in expired} == set(spent)
    assert (found.doubled, found.lost) == (0, 0)
    crew.tick(back + dt.timedelta(hours=1))
    assert len(sink.taken) == len(people)


def test_a_morning_with_one_worker(
    sink: Sink, figures: list[Figure], tmp_path: Path, transactional_db: Any
) -> None:
    """From the wake of the schedule to the last mail, planning included."""
    number = sized(100, 1_000)
    with open_celeries(tmp_path, "", sink.url) as celeries:
        celeries.worker()
        due_now(number)
        woken = time.time()
        celeries.wake()
        wait_until(lambda: len(sink.taken) == number)
        took = [mail["at"] - woken for mail in sink.taken]

    p95 = statistics.quantiles(took, n=20)[-1]
    note = f"one worker, planning included: first after {took[0]:.1f} s, 95 % within {p95:.1f} s, all {took[-1]:.1f} s"
    found = figure("R17: due at the same minute", number, sink, note)
    figures.append(found)
    assert (found.received, found.doubled, found.lost) == (number, 0, 0)


def queries_of_sending(number: int) -> int:
    """How many queries it takes to send so many mails."""
    counted = Counter[str]()

    def counts(execute: Any, *arguments: Any) -> Any:
        counted["queries"] += 1
        return execute(*arguments)

    with connection.execute_wrapper(counts):
        assert send_due(at=DUE, limit=number) == {Outcome.SENT: number}
    return counted["queries"]


def test_a_mail_costs_the_same_queries_however_many_there_are(figures: list[Figure], settings: Any) -> None:
    """And the run that sends them some of its own, once."""
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    keepers(115, given_on=[GIVEN], recorded_at=SAVED)
    plan_notices(at=DUE)
    few, ten, hundred = queries_of_sending(5), queries_of_sending(10), queries_of_sending(100)
    each = (ten - few) / 5

    note = f"{each:g} queries for a mail, {few - 5 * each:g} more for the run"
    figures.append(Figure("5, 10 and 100 mails in a run", 115, 115, 0, 0, 115, note))
    assert few - 5 * each == ten - 10 * each == hundred - 100 * each
