"""`manage.py sweep`: clear away what is over, as the schedule does every hour; for cron, and for whoever looks."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from reports.sweep import sweep


class Command(BaseCommand):
    help = "Clears away what is kept for a time only and whose time is over: docs/reference/retention.md lists it."

    def handle(self, **_: Any) -> None:
        gone = sweep(at=timezone.now())
        for name, number in gone.items():
            self.stdout.write(f"{name}: {'stopped, see the log' if number is None else f'{number} gone'}")
        if None in gone.values():
            raise CommandError("Not all could be swept; the rest was. The next run goes on.")
