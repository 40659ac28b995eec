"""Makes an invented country of any size, for measuring."""

import datetime as dt
import time
from argparse import ArgumentParser
from typing import Any

import numpy as np
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connection, transaction
from django.utils import timezone

from apiaries.models import Club
from config.demo.nation import make_country
from config.demo.nation_counts import FIRST_YEAR, write_counts, write_treatments
from reports.figures import recompute_all

SEED = 20260301
WRITTEN = ("counts_mitesample", "treatments_treatment", "treatments_round")


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
        call_command("load_reference", verbosity=0)
        random = np.random.default_rng(SEED)
        with transaction.atomic(), connection.cursor() as cursor:
            # Else every key of every row would wait in memory for the end of the transaction.
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
            for table in WRITTEN:
                cursor.execute(f"ALTER TABLE {table} DISABLE TRIGGER USER")
            country = make_country(
                samples, first_day=dt.date(FIRST_YEAR, 1, 1), at=timezone.now(), random=random
            )
            self._say(f"{len(country.yards):,} yards, {len(country.colonies):,} colonies", begun)
            self._say(f"{write_treatments(country, random):,} treatments", begun)
            self._say(f"{write_counts(country, samples, random):,} counts", begun)
            for table in WRITTEN:
                cursor.execute(f"ALTER TABLE {table} ENABLE TRIGGER USER")
        with connection.cursor() as cursor:
            cursor.execute("VACUUM (ANALYZE)")
        self._say("tables analysed", begun)
        recompute_all(at=timezone.now(), from_scratch=True)
        self._say("all figures worked out", begun)

    def _say(self, what: str, begun: float) -> None:
        self.stdout.write(f"{time.monotonic() - begun:7.1f} s  {what}")
