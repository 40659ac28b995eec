"""Ends the pause that a restore left behind."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from reports.pausing import open_pause, resume_sending


class Command(BaseCommand):
    help = "Let reminders leave again after a restore."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--drop-due",
            action="store_true",
            help="never send what was due up to now: it left already, from the server that was lost",
        )

    def handle(self, *, drop_due: bool, **_: Any) -> None:
        if open_pause() is None:
            self.stdout.write("Sending is not paused: nothing was changed.")
            return
        number = resume_sending(at=timezone.now(), drop_due=drop_due)
        what = f"{number} mails that were due are dropped" if drop_due else f"{number} mails are due by now"
        self.stdout.write(f"Reminders leave again; {what}.")
