"""Writes down which work was done, for tasks of a worker and for commands that cron runs."""

import logging
import socket
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from celery import signals
from django.db import Error as DatabaseError
from django.utils import timezone

logger = logging.getLogger(__name__)

OF_TASK = {
    "reports.tasks.wake_notices": "notices",
    "reports.tasks.wake_mails": "mails",
    "reports.tasks.wake_account_notices": "account_notices",
    "reports.tasks.wake_region_figures": "region_figures",
    "reports.tasks.wake_leavings": "leavings",
    "reports.tasks.wake_sweep": "sweep",
    "reports.tasks.recompute_all_region_figures": "all_region_figures",
    "counts.tasks.work_on_imports": "imports",
}
OF_COMMAND: dict[str, Sequence[str]] = {
    "send_notices": ("notices", "mails", "account_notices"),
    "refresh_figures": ("region_figures",),
    "refresh_figures --all": ("all_region_figures",),
    "sweep": ("sweep",),
    "verify_medicine_records": ("medicine_chains",),
}
_begun: dict[str, float] = {}


@signals.task_prerun.connect
def task_begins(task_id: str = "", **_: Any) -> None:
    _begun[task_id] = time.monotonic()


@signals.task_postrun.connect
def task_ended(task_id: str = "", task: Any = None, state: str = "", **_: Any) -> None:
    begun = _begun.pop(task_id, None)
    work = OF_TASK.get(getattr(task, "name", ""))
    if work is not None and begun is not None:
        _note([work], ok=state == "SUCCESS", begun=begun)


@contextmanager
def noted(arguments: Sequence[str]) -> Iterator[None]:
    """Around a command of manage.py. What only looks is no work."""
    works = OF_COMMAND.get(" ".join(arguments[:2])) or OF_COMMAND.get(" ".join(arguments[:1]), ())
    if not works or {"--dry-run", "--help", "-h"} & set(arguments):
        yield
        return
    begun, ok = time.monotonic(), False
    try:
        yield
        ok = True
    except SystemExit as ended:
        ok = not ended.code
        raise
    finally:
        _note(works, ok=ok, begun=begun)


def _note(works: Sequence[str], *, ok: bool, begun: float) -> None:
    from reports.work import note_work  # models cannot be imported before all apps are loaded

    host, took_ms = socket.gethostname(), round((time.monotonic() - begun) * 1000)
    try:
        for work in works:
            note_work(work, host=host, at=timezone.now(), ok=ok, took_ms=took_ms)
    except DatabaseError as error:  # the work itself is done all the same
        logger.warning("work done is not written down: %s", type(error).__name__)
