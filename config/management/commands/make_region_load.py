"""Makes an invented country of any size, for measuring."""

import time
from argparse import ArgumentParser
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.utils import timezone

from apiaries.models import Club
from config.demo.nation_load import fill
from reports.figures import write_anew

PROCESSES = 2


class Command(BaseCommand):
    help = "Fill an empty database with an invented country of so many counts, for measuring."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--samples", type=int, default=100_000, help="how many counts, about")

    def handle(self, *, samples: int, **_: Any) -> None:
        if samples < 1:
            raise CommandError("--samples is a number of counts, 1 or more.")
        if Club.objects.exists():
            raise CommandError(
                "There are clubs here. An invented country needs an empty database of its own."
            )
        begun = time.monotonic()

        def say(what: str) -> None:
            self.stdout.write(f"{time.monotonic() - begun:7.1f} s  {what}")

        call_command("load_reference", verbosity=0)
        fill(samples=samples, at=timezone.now(), say=say)
        with connection.cursor() as cursor:
            cursor.execute("VACUUM (ANALYZE)")
        say("tables analysed")
        write_anew(at=timezone.now(), processes=PROCESSES)
        say("all figures worked out")
        with connection.cursor() as cursor:
            cursor.execute("VACUUM (ANALYZE)")  # as a night would leave it
