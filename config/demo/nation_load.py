"""Fills an empty database with the invented country."""

import datetime as dt
from collections.abc import Callable

import numpy as np
from django.db import connection, transaction

from config.demo.nation import make_country
from config.demo.nation_counts import FIRST_YEAR, write_counts, write_treatments

SEED = 20260301
WRITTEN = ("counts_mitesample", "treatments_treatment", "treatments_round")


@transaction.atomic
def fill(*, samples: int, at: dt.datetime, say: Callable[[str], None]) -> None:
    """The country with about so many counts, all or nothing; `say` hears how far it is. Reference data are there."""
    random = np.random.default_rng(SEED)
    with connection.cursor() as cursor:
        # Else every key of every row would wait in memory for the end of the transaction.
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        for table in WRITTEN:
            cursor.execute(f"ALTER TABLE {table} DISABLE TRIGGER USER")
        country = make_country(samples, first_day=dt.date(FIRST_YEAR, 1, 1), at=at, random=random)
        say(f"{len(country.yards):,} yards, {len(country.colonies):,} colonies")
        say(f"{write_treatments(country, random):,} treatments")
        say(f"{write_counts(country, samples, random):,} counts")
        for table in WRITTEN:
            cursor.execute(f"ALTER TABLE {table} ENABLE TRIGGER USER")
