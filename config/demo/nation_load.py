"""Fills an empty database with the invented country."""

import datetime as dt
from collections.abc import Callable

import numpy as np
from django.db import connection, transaction

from config.demo.nation import make_country
from config.demo.nation_counts import FIRST_YEAR, write_counts, write_treatments

SEED = 20260301
WRITTEN = ("counts_mitesample", "treatments_treatment", "treatments_round", "treatments_recount")


# Indexes that are no constraint; made anew in one go, which takes a fraction of adding every row to each of them.
INDEXES = """
SELECT i.indexrelid::regclass::text, pg_get_indexdef(i.indexrelid)
  FROM pg_index i
 WHERE i.indrelid = ANY(%s::regclass[]) AND NOT i.indisunique
   AND NOT EXISTS (SELECT 1 FROM pg_constraint c WHERE c.conindid = i.indexrelid)
"""


@transaction.atomic
def fill(*, samples: int, at: dt.datetime, say: Callable[[str], None]) -> None:
    """The country with about so many counts, all or nothing; `say` hears how far it is. Reference data are there."""
    random = np.random.default_rng(SEED)
    with connection.cursor() as cursor:
        # Else every key of every row would wait in memory for the end of the transaction.
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        for table in WRITTEN:
            cursor.execute(f"ALTER TABLE {table} DISABLE TRIGGER USER")
        cursor.execute(INDEXES, [list(WRITTEN)])
        indexes = cursor.fetchall()
        for name, _ in indexes:
            cursor.execute(f"DROP INDEX {name}")
        country = make_country(samples, first_day=dt.date(FIRST_YEAR, 1, 1), at=at, random=random)
        say(f"{len(country.yards):,} yards, {len(country.colonies):,} colonies")
        say(f"{write_treatments(country, random):,} treatments")
        say(f"{write_counts(country, samples, random):,} counts")
        for _, made in indexes:
            cursor.execute(made)
        say(f"{len(indexes)} indexes")
        for table in WRITTEN:
            cursor.execute(f"ALTER TABLE {table} ENABLE TRIGGER USER")
