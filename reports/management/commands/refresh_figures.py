"""Works the region figures out now: what the schedule does, for a cron job or after an import."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from reports.figures import recompute_all, refresh_marked


class Command(BaseCommand):
    help = "Work out the region figures that are marked, or all of them."

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

    def handle(self, *, all: bool, anew: bool, **_: Any) -> None:  # noqa: A002  (the option's name)
        if anew:
            recompute_all(at=timezone.now(), from_scratch=True)
            self.stdout.write("All figures written anew.")
            return
        if all:
            drifts = recompute_all(at=timezone.now())
            for drift in drifts:
                self.stdout.write(f"drifted, put right: {drift.what}")
            self.stdout.write(f"All figures worked out; {len(drifts)} had drifted.")
            return
        done = 0
        while some := refresh_marked(at=timezone.now()):
            done += some
        self.stdout.write(f"{done} regions and months worked out.")
