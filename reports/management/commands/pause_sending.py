"""Keeps reminders from leaving: where a database was brought back to an earlier minute by other means than ours."""

from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from reports.pausing import open_pause, pause_sending


class Command(BaseCommand):
    help = "Plan and send no reminder until resume_sending is said."

    def handle(self, **_: Any) -> None:
        if open_pause() is None:
            pause_sending(at=timezone.now(), why="The operator asked for it.")
        self.stdout.write("Reminders are paused until you say manage.py resume_sending.")
