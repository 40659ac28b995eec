"""Numbers and dates come from PostgreSQL and go there as they are, in its binary form."""

import datetime as dt

import numpy as np
import pytest
from django.db import DatabaseError, connection, transaction

from reports._binary import date_of, day_of, read_rows, write_rows

ROW = np.dtype([("big", "i8"), ("day", "i4"), ("small", "i2"), ("real", "f8")])
EDGES = [
    (2**63 - 1, dt.date(2026, 11, 25), 32767, 1e-300),
    (-(2**63), dt.date(1999, 12, 31), -32768, -0.5),
    (0, dt.date(2000, 1, 1), 0, float("inf")),
]


@pytest.fixture
def table(db):
    with connection.cursor() as cursor:
        cursor.execute(
            "CREATE TEMP TABLE edges (big int8, day date, small int2, real float8, word text, hole int4)"
        )
        yield cursor
        cursor.execute("DROP TABLE edges")


def rows_of(values):
    rows = np.empty(len(values), ROW)
    for place, (big, day, small, real) in enumerate(values):
        rows[place] = (big, day_of(day), small, real)
    return rows


def test_edges_come_and_go_as_they_are(table):
    rows = rows_of(EDGES)
    columns = ("big", "day", "small", "real", "word", "hole")
    write_rows(
        "edges",
        columns,
        [(rows[:2], {"word": "Käfer", "hole": None}), (rows[2:], {"word": "", "hole": None})],
    )

    table.execute("SELECT big, day, small, real, word, hole FROM edges ORDER BY big DESC")
    stored = {row[0]: row[1:] for row in table.fetchall()}
    assert stored == {
        big: (day, small, real, "" if big == 0 else "Käfer", None) for big, day, small, real in EDGES
    }
    found = read_rows("SELECT big, day, small, real FROM edges ORDER BY day DESC", [], ROW)
    assert found.tolist() == rows[[0, 2, 1]].tolist()


def test_nothing_is_nothing(table):
    write_rows("edges", ("big", "day", "small", "real"), [(np.empty(0, ROW), {})])

    assert len(read_rows("SELECT big, day, small, real FROM edges", [], ROW)) == 0


@pytest.mark.parametrize("column", ["NULL::int8", "1::int4", "1.5::float4"])
def test_null_and_another_size_are_refused(db, column):
    with pytest.raises(ValueError, match="another size"):
        read_rows(f"SELECT {column}, current_date, 1::int2, 1::float8", [], ROW)


def test_parameters_reach_the_query_and_errors_are_djangos(db):
    found = read_rows(
        "SELECT unnest(%s::bigint[]), %s::date, 7::int2, 1::float8", [[5, 6], dt.date(2026, 1, 2)], ROW
    )
    assert found["big"].tolist() == [5, 6]
    assert date_of(found["day"][0]) == dt.date(2026, 1, 2)

    with pytest.raises(DatabaseError, match="nowhere"), transaction.atomic():
        read_rows("SELECT * FROM nowhere", [], ROW)
