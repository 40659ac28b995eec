"""The project's Celery with a beat of a second and a queue of one test's own. Say: celery -A tests.faults.fast"""

import os
from datetime import timedelta

from config.celery import app

app.conf.task_default_queue = os.environ["FAULTS_QUEUE"]
for name, entry in app.conf.beat_schedule.items():
    entry["schedule"] = timedelta(seconds=1 if name == "wake-notices" else 10)
    entry["options"] = {"expires": entry["schedule"].total_seconds()}

__all__ = ["app"]
