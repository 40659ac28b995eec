"""Processes that plan and send, started in milliseconds. Say: python -m tests.faults.hands

It loads the project once and then forks a process of its own for each order, so that a test can kill and start
senders many times in a second. It holds no connection itself. An order is a line of JSON: the name of a job below, the
file for its result, and what the job wants; the answer is the number of the process.
"""

import datetime as dt
import json
import os
import signal
import sys
import time
import traceback
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import django


def moment(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text)


def tick(*, at: str, plan: bool = True) -> dict[str, int]:
    """What a wake does, at a moment of the test's choosing: plan, and send until nothing is due."""
    from reports.planner import plan_notices
    from reports.sender import send_due

    tally: Counter[str] = Counter()
    if plan:
        tally["planned"] = plan_notices(at=moment(at))
    while sent := send_due(at=moment(at), limit=100):
        tally.update({str(outcome): number for outcome, number in sent.items()})
        if sent.total() < 100 or sent["outage"]:
            break
    return dict(tally)


def ticks(*, at: list[str]) -> dict[str, int]:
    """Many wakes, one moment after the other."""
    return dict(sum((Counter(tick(at=one)) for one in at), Counter()))


def run(*, start: str, began: float, speed: float, seconds: float = 600) -> dict[str, int]:
    """Wake again and again by a clock that runs faster than the real one, until killed or `seconds` are over."""
    from reports.sender import send_due

    tally: Counter[str] = Counter()
    while time.time() < began + seconds:
        at = moment(start) + dt.timedelta(seconds=(time.time() - began) * speed)
        sent = send_due(at=at, limit=5)
        tally.update({str(outcome): number for outcome, number in sent.items()})
        if not sent:
            time.sleep(0.02)
    return dict(tally)


def task(*, name: str, go: float) -> dict[str, int]:
    """The body of one of Celery's tasks, at the same instant as others."""
    from config.celery import app

    app.loader.import_default_modules()
    body = app.tasks[name]
    time.sleep(max(0.0, go - time.time()))
    body()
    return {}


def command(*, name: str) -> dict[str, int]:
    """A management command."""
    from django.core.management import call_command

    call_command(name, stdout=sys.stderr)
    return {}


def fill(*, number: int) -> dict[str, int]:
    """Keepers whose mails are due, on a database that is not the test's."""
    from tests.faults.outbox import planned

    return {"planned": planned(number)}


def loop(*, name: str, seconds: float) -> dict[str, int]:
    """A management command again and again."""
    until = time.time() + seconds
    while time.time() < until:
        command(name=name)
        time.sleep(0.2)
    return {}


JOBS: dict[str, Callable[..., dict[str, int]]] = {
    job.__name__: job for job in (tick, ticks, run, task, command, loop, fill)
}


def work(job: str, result: str, wishes: dict[str, Any]) -> None:
    """Do it and end, in the forked process. The result appears whole or not at all."""
    signal.signal(signal.SIGCHLD, signal.SIG_DFL)
    part = Path(f"{result}.part")
    try:
        came_to: Any = JOBS[job](**wishes)
    except BaseException:  # noqa: BLE001  (the test wants to read it)
        came_to = {"error": traceback.format_exc()}
    part.write_text(json.dumps(came_to))
    part.rename(result)


def main() -> None:
    django.setup()
    import reports.planner
    import reports.sender
    import reports.tasks  # noqa: F401

    signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # the ended ones are nobody's zombies
    sys.stdout.write("ready\n")
    sys.stdout.flush()
    for line in sys.stdin:
        order = json.loads(line)
        child = os.fork()
        if child == 0:
            work(order["job"], order["result"], order["wishes"])
            os._exit(0)
        sys.stdout.write(f"{child}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
