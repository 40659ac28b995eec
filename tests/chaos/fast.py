"""The project's Celery with a schedule of seconds, and waits between tries of a mail in seconds instead of minutes.

Say: celery -A tests.chaos.fast worker. An hour's worth of kills in minutes needs an hour's worth of tries in minutes;
nothing else of the sending differs.
"""

import os
from datetime import timedelta

import django
from celery.signals import worker_init

from config.celery import app

SPEED = 60
BEAT = float(os.environ["CHAOS_BEAT"])

for entry in app.conf.beat_schedule.values():
    seconds = BEAT if entry["schedule"] <= timedelta(minutes=15) else 20 * BEAT
    entry["schedule"] = timedelta(seconds=seconds)
    entry["options"] = {"expires": seconds}


@worker_init.connect
def be_quick(**_: object) -> None:
    django.setup()
    from reports import circuit, sender

    sender.WAITS = tuple(wait / SPEED for wait in sender.WAITS)  # type: ignore[assignment]
    circuit.WAITS = tuple(wait / SPEED for wait in circuit.WAITS)  # type: ignore[assignment]


__all__ = ["app"]
