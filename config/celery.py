"""Celery: the tasks' application and the whole schedule.

Tasks only wake: "send what is due", "recompute what is marked". Whatever is due is known by the database alone, so a
lost or doubled message does no harm. Hence plain intervals in UTC (a crontab skips or doubles runs where clocks
change), no countdowns, and an expiry on every message, so that a worker that comes back finds one message and not
a day of them. Two beats may run.
"""

import os
import sys
from datetime import timedelta
from typing import Any

from celery import Celery, Task
from celery.signals import celeryd_init
from django.utils import timezone

from apiaries.second_lock import as_the_service
from config import broker_files, task_log, work_signals  # noqa: F401  (the last two connect their signals)
from config.entry import prepare, read_settings
from config.paths import VAR

read_settings()  # also takes in CELERY_BROKER_URL_FILE

BROKER_URL = os.environ.get("CELERY_BROKER_URL") or "filesystem://"
EMBEDDED = BROKER_URL.startswith("filesystem:")


class OfTheService(Task):
    """A task is the program's own doing: it reads rows of everybody."""

    def __call__(self, *args: Any, **kwargs: Any) -> Any:
        with as_the_service():
            return super().__call__(*args, **kwargs)


app = Celery("recount", task_cls=OfTheService)


def _every(task: str, interval: timedelta) -> dict[str, Any]:
    """One entry of the schedule; its message is worthless once the next one is due."""
    return {"task": task, "schedule": interval, "options": {"expires": interval.total_seconds()}}


app.conf.update(
    broker_url=BROKER_URL,
    broker_connection_retry_on_startup=True,
    accept_content=["json"],
    task_default_queue="recount",
    timezone="UTC",
    enable_utc=True,
    task_ignore_result=True,
    task_acks_late=True,
    worker_prefetch_multiplier=1,
    beat_schedule_filename=str(VAR / "beat" / "schedule"),
    beat_schedule={
        "wake-notices": _every("reports.tasks.wake_notices", timedelta(minutes=15)),
        "wake-mails": _every("reports.tasks.wake_mails", timedelta(seconds=60)),
        "wake-account-notices": _every("reports.tasks.wake_account_notices", timedelta(seconds=60)),
        "wake-region-figures": _every("reports.tasks.wake_region_figures", timedelta(seconds=60)),
        # A look at an empty list, so that somebody who sent a big sheet does not wait for a minute.
        "work-on-imports": _every("counts.tasks.work_on_imports", timedelta(seconds=10)),
        "wake-leavings": _every("reports.tasks.wake_leavings", timedelta(hours=1)),
        "wake-sweep": _every("reports.tasks.wake_sweep", timedelta(hours=1)),
        # Once a day: whatever the minute's marks missed is found and named here.
        "recompute-region-figures": _every("reports.tasks.recompute_all_region_figures", timedelta(hours=24)),
    },
)
if EMBEDDED:
    app.conf.update(
        broker_transport="config.broker_files:Transport",
        broker_transport_options=broker_files.options(VAR / "broker"),
        worker_enable_remote_control=False,  # its replies would be files that nobody reads
        worker_send_task_events=False,
    )
if "beat" in sys.argv:  # it opens its file before any signal is sent
    (VAR / "beat").mkdir(parents=True, exist_ok=True)
app.set_default()  # for tasks called from any thread of a web process
app.autodiscover_tasks()


@celeryd_init.connect
def ready_worker(**_: Any) -> None:
    """Before a worker starts: the database runs, and its file broker holds nothing that could end it."""
    prepare()
    if EMBEDDED:
        broker_files.tidy(VAR / "broker", at=timezone.now())
