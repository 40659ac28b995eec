"""The cast, made once for a process through the real actions; further tests get its rows and people over again.

It takes a hundred and fifty queries to make, and one to write its rows.
"""

from collections import defaultdict
from copy import deepcopy
from dataclasses import dataclass

import pgtrigger
import time_machine
from django.db import connection, transaction

from tests import held
from tests.cast import Cast, make_cast


@dataclass(frozen=True)
class Made:
    """The cast as it was made, and its rows as a statement that writes them."""

    cast: Cast
    statement: str


MADE: list[Made] = []


def cast_again() -> Cast:
    """The cast, as if made anew, but with the keys and words of the first time.

    Really made anew where the test has a clock of its own, which shows in its rows, or a role that may not write all.
    """
    if held.WANTED or time_machine.escape_hatch.is_travelling():
        return make_cast()
    if not MADE:
        before = _rows()
        cast = make_cast()
        MADE.append(Made(deepcopy(cast), _writing(_rows() - before)))
        return cast
    # Its history is among its rows; no trigger is to write it a second time.
    with transaction.atomic(), pgtrigger.ignore(), connection.cursor() as cursor:
        cursor.execute(MADE[0].statement)
    return deepcopy(MADE[0].cast)


def _rows() -> set[tuple[str, str]]:
    """Every row of every model's table: the table, and the row as JSON."""
    names = connection.introspection.django_table_names(only_existing=True, include_views=False)
    with connection.cursor() as cursor:
        cursor.execute(
            " UNION ALL ".join(f"SELECT '{name}', to_jsonb(one)::text FROM {name} one" for name in names)
        )
        return set(cursor.fetchall())


def _writing(rows: set[tuple[str, str]]) -> str:
    by_table: dict[str, list[str]] = defaultdict(list)
    for name, row in sorted(rows):
        by_table[name].append(row.replace("'", "''"))
    return "; ".join(
        f"INSERT INTO {name} SELECT * FROM jsonb_populate_recordset(NULL::{name}, '[{','.join(found)}]')"
        for name, found in by_table.items()
    )
