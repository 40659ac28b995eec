"""R1 and R2: senders are killed at random moments. Nothing is lost, and a kill makes one copy too many at most."""

import datetime as dt
import random
import time
from collections import Counter

import pytest

from reports.models import Digest, DigestState
from tests.faults.machinery import Crew, Figure, Sink, sized, wait_until
from tests.faults.outbox import DUE, drain, figure, planned, waiting

pytestmark = [pytest.mark.slow, pytest.mark.django_db(transaction=True)]

SPEED = 120  # two minutes in a second: a mail whose sender died waits for a minute and more
SENDERS = 3


def test_senders_killed_at_random_lose_nothing_and_double_little(
    crew: Crew, sink: Sink, figures: list[Figure]
) -> None:
    due, kills = planned(sized(1_000, 3_000)), sized(50, 150)
    sink.order(slow=0.03)
    chance = random.Random(20260820)
    clock = {"start": DUE.isoformat(), "began": time.time(), "speed": SPEED}
    senders = [crew.start("run", **clock) for _ in range(SENDERS)]
    for _ in range(kills):
        time.sleep(chance.uniform(0.05, 0.15))
        which = chance.randrange(SENDERS)
        senders[which].kill()
        senders[which] = crew.start("run", **clock)
    left = waiting()
    wait_until(lambda: waiting() < due / 20)
    for sender in senders:
        sender.kill()
    drain(crew, DUE + dt.timedelta(seconds=(time.time() - clock["began"]) * SPEED))

    kills += SENDERS
    found = figure("R1, R2: senders killed at random", due, sink, f"{kills} kills")
    figures.append(found)
    assert left > due / 10, "the mails were gone before the kills were"
    assert found.lost == 0
    assert found.doubled <= kills
    assert max(sink.copies().values()) <= 2
    assert Counter(Digest.objects.values_list("state", flat=True)) == {DigestState.SENT: due}


def test_without_a_kill_nothing_comes_twice(crew: Crew, sink: Sink, figures: list[Figure]) -> None:
    due = planned(sized(100, 1_000))
    clock = {"start": DUE.isoformat(), "began": time.time(), "speed": SPEED}
    for _ in range(4):
        crew.start("run", **clock)
    wait_until(lambda: not waiting())

    found = figure("R2: four senders, no kill", due, sink)
    figures.append(found)
    assert (found.received, found.doubled, found.lost) == (due, 0, 0)
