"""R3, R4, R5: two beats, two workers and two loops change nothing; without any of them, the others do the work."""

import datetime as dt
import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.utils import timezone

from config.celery import app
from counts.actions import record_sample
from reports.figures import recompute_all
from reports.models import Digest, DigestAttempt, DigestState, Notice, RegionMonth, RegionMonthMark
from tests.brokers import KNOWN, url_of
from tests.faults.machinery import HUNG, Crew, Figure, Sink, sized, wait_until
from tests.faults.outbox import figure
from tests.faults.people import due_now
from tests.faults.workers import open_celeries, open_own_redis
from tests.processes import environment
from tests.reports.counting import new_count

pytestmark = [pytest.mark.slow, pytest.mark.django_db(transaction=True)]

DONE = "reports.tasks.wake_notices"


def arrived(sink: Sink, number: int) -> Callable[[], bool]:
    return lambda: len(sink.taken) >= number


def works(log: Path, times: int = 1) -> Callable[[], bool]:
    """Whether this worker has done its task so often."""
    return lambda: sum(DONE in line and "succeeded" in line for line in log.read_text().splitlines()) >= times


@pytest.mark.parametrize("broker", sorted(KNOWN))
def test_two_beats_two_workers_two_loops_and_a_hand_change_nothing(
    broker: str, crew: Crew, sink: Sink, figures: list[Figure], tmp_path: Path
) -> None:
    number = sized(20, 100)
    sink.order(slow=0.05)
    with open_celeries(tmp_path, url_of(broker), sink.url) as celeries:
        celeries.beat()
        celeries.beat()
        logs = [celeries.worker(), celeries.worker()]
        loops = [crew.start("loop", name="send_notices", seconds=HUNG) for _ in range(2)]
        wait_until(lambda: all(works(log)() for log in logs))
        due_now(number)
        while len(sink.taken) < number:
            crew.tick(timezone.now())
        for log in logs:  # both go on after the last mail
            wait_until(works(log, log.read_text().count("succeeded") + 2))
        for loop in loops:
            assert loop.lives
            loop.kill()

    found = figure(f"R3: two of everything, {broker}", number, sink)
    figures.append(found)
    assert (found.received, found.doubled, found.lost) == (number, 0, 0)
    assert (Digest.objects.count(), Notice.objects.count()) == (number, number)


def test_a_cron_job_alone_does_the_work(sink: Sink, figures: list[Figure], transactional_db: Any) -> None:
    number = sized(20, 100)
    due_now(number)
    for _ in range(2):
        subprocess.run(
            [sys.executable, "manage.py", "send_notices"],
            cwd=settings.BASE_DIR,
            env=environment(EMAIL_URL=sink.url, CELERY_BROKER_URL="redis://127.0.0.1:1/0"),
            check=True,
            timeout=300,
            capture_output=True,
        )

    found = figure("R4: no Celery at all, cron alone", number, sink)
    figures.append(found)
    assert (found.received, found.doubled, found.lost) == (number, 0, 0)


def test_a_broker_that_dies_only_delays(
    sink: Sink, figures: list[Figure], tmp_path: Path, transactional_db: Any
) -> None:
    number = sized(10, 50)
    with (
        open_own_redis(tmp_path) as redis,
        open_celeries(tmp_path, redis.url, sink.url) as celeries,
    ):
        celeries.beat()
        log = celeries.worker()
        due_now(number, "Before")
        wait_until(arrived(sink, number))
        wait_until(works(log, log.read_text().count("succeeded") + 1))  # whoever sent these is done
        redis.kill()
        wait_until(lambda: "Cannot connect to" in log.read_text())  # done with what it had taken before
        stopped = time.monotonic()
        due_now(number, "Meanwhile")
        time.sleep(3)
        assert len(sink.taken) == number, "nobody was there to send"
        redis.start()
        again = time.monotonic()
        wait_until(arrived(sink, 2 * number))
        late = time.monotonic() - again
        wait_until(works(log, log.read_text().count("succeeded") + 2))

    note = f"away {again - stopped:.0f} s, all sent {late:.0f} s after its return"
    found = figure("R4: broker killed and started again", 2 * number, sink, note)
    figures.append(found)
    assert (found.received, found.doubled, found.lost) == (2 * number, 0, 0)


def test_a_wiped_broker_folder_only_delays(
    sink: Sink, figures: list[Figure], tmp_path: Path, transactional_db: Any
) -> None:
    number = sized(10, 50)
    with open_celeries(tmp_path, "", sink.url) as celeries:
        celeries.beat()
        log = celeries.worker()
        due_now(number, "Before")
        wait_until(arrived(sink, number))
        shutil.rmtree(tmp_path / "broker")
        due_now(number, "Meanwhile")
        wait_until(arrived(sink, 2 * number), seconds=60)
        wait_until(works(log, log.read_text().count("succeeded") + 2))

    found = figure("R4: folder of the embedded broker wiped", 2 * number, sink)
    figures.append(found)
    assert (found.received, found.doubled, found.lost) == (2 * number, 0, 0)


def test_every_task_twice_at_the_same_time_is_as_once(crew: Crew, sink: Sink, figures: list[Figure]) -> None:
    """Four times, in fact, and all of them beside each other; a task that joins the schedule joins this test."""
    number = sized(20, 100)
    people = due_now(number)
    for person in people[:8]:
        colony = person.yards.get().colonies.get()
        before = timezone.now().date() - dt.timedelta(days=40)
        record_sample(count=new_count(colony, before, 3), at=timezone.now(), by=person)
    assert RegionMonthMark.objects.exists()

    go = time.time() + 1
    tasks = sorted({entry["task"] for entry in app.conf.beat_schedule.values()})
    hands = [crew.start("task", name=name, go=go) for name in tasks for _ in range(4)]
    for hand in hands:
        hand.came_to()

    found = figure("R5: every task four times at once", number, sink, f"{len(tasks)} tasks")
    figures.append(found)
    assert (found.received, found.doubled, found.lost) == (number, 0, 0)
    assert (Digest.objects.count(), Notice.objects.count()) == (number, number)
    assert set(Digest.objects.values_list("state", flat=True)) == {DigestState.SENT}
    assert set(DigestAttempt.objects.values_list("outcome", flat=True)) <= {"sent", "taken"}
    assert RegionMonth.objects.exists() and not RegionMonthMark.objects.exists()
    assert recompute_all(at=timezone.now()) == []
