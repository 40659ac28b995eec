"""Works the region figures out now: what the schedule does, for a cron job or after an import."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from reports.figures import recompute_all, refresh_all_marked, write_anew
from reports.publishing import publish_due


class Command(BaseCommand):
    help = "Work out the region figures that are marked and publish what is due, or work out all of them."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--all",
            action="store_true",
            help="hold all against a recount from the counts, naming what had drifted",
        )
        parser.add_argument(
            "--anew",
            action="store_true",
            help="write all anew from the counts: after a restore or a new method",
        )

        parser.add_argument("--processes", type=int, default=1, help="how many work at it, with --anew")

    def handle(self, *, all: bool, anew: bool, processes: int, **_: Any) -> None:  # noqa: A002  (the option's name)
        if anew:
            write_anew(at=timezone.now(), processes=processes)
            self.stdout.write("All figures written anew.")
            return
        if all:
            drifts = recompute_all(at=timezone.now())
            for drift in drifts:
                self.stdout.write(f"drifted, put right: {drift.what}")
            self.stdout.write(f"All figures worked out; {len(drifts)} had drifted.")
            return
        done = refresh_all_marked(at=timezone.now())
        self.stdout.write(f"{done} regions and months worked out.")
        if published := publish_due(at=timezone.now()):
            self.stdout.write(f"{published} months published.")
