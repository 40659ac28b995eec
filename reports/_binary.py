"""PostgreSQL's binary COPY to and from numpy, for tables of numbers and dates: a million rows in about a second.

psycopg makes a Python object of every field, which takes ten times as long. The format: PostgreSQL manual, COPY,
"Binary Format": a head, then for each row the number of fields and each field's length and bytes, big end first.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import date
from typing import Any

import numpy as np
import numpy.typing as npt
from django.db import connection
from psycopg import Copy

Rows = npt.NDArray[np.void]
"""A structured array: one record a row."""

Value = str | bytes | None
"""A text, the bytes of a field as PostgreSQL sends it, or NULL."""

HEAD = b"PGCOPY\n\xff\r\n\0" + bytes(8)
END = b"\xff\xff"
DAY_ZERO = date(2000, 1, 1).toordinal()


def day_of(on: date) -> int:
    """A date as PostgreSQL keeps it: days since 2000."""
    return on.toordinal() - DAY_ZERO


def date_of(day: int) -> date:
    """The date of such a number of days."""
    return date.fromordinal(int(day) + DAY_ZERO)


def read_rows(query: str, parameters: Sequence[Any], dtype: np.dtype[np.void]) -> Rows:
    """What the query gives. Its columns are those of `dtype` in order, of exactly these sizes, and never NULL:
    bigint i8, integer and date i4, smallint i2, double precision f8."""
    fields = {name: dtype[name] for name in dtype.names or ()}
    layout = [part for name, size in fields.items() for part in _sized(name, size)]
    laid_out = np.dtype([("fields", ">i2"), *layout])
    with _copying(f"COPY ({query}) TO STDOUT (FORMAT binary)", parameters) as copy:
        whole = b"".join(bytes(part) for part in copy)
    number = (len(whole) - len(HEAD) - len(END)) // laid_out.itemsize
    found = np.frombuffer(whole, laid_out, count=number, offset=len(HEAD))
    if len(whole) != len(HEAD) + len(END) + number * laid_out.itemsize:
        raise ValueError("a column is NULL or of another size than asked for")
    rows = np.empty(number, dtype)
    for name in fields:
        rows[name] = found[name]
    return rows


def write_rows(table: str, columns: Sequence[str], parts: Sequence[tuple[Rows, Mapping[str, Value]]]) -> None:
    """Add rows to a table. Each part: its rows, and what is the same in all of them: a text, or None for NULL; every
    other column is a field of the rows."""
    names = ", ".join(columns)
    with (
        connection.cursor() as cursor,
        cursor.copy(f"COPY {table} ({names}) FROM STDIN (FORMAT binary)") as copy,
    ):
        copy.write(HEAD)
        for rows, same in parts:
            copy.write(_packed(rows, columns, same))
        copy.write(END)


@contextmanager
def _copying(statement: str, parameters: Sequence[Any] = ()) -> Iterator[Copy]:
    """psycopg's own copy: Django's wrapper for counting queries takes no parameters."""
    with (
        connection.cursor() as wrapped,
        connection.wrap_database_errors,
        wrapped.cursor.copy(statement, parameters) as copy,
    ):
        yield copy


def _packed(rows: Rows, columns: Sequence[str], same: Mapping[str, Value]) -> bytes:
    fixed = {name: _field(value) for name, value in same.items()}
    layout: list[tuple[str, str]] = [("fields", ">i2")]
    for name in columns:
        if name in fixed:
            layout.append((name, f"V{len(fixed[name])}"))
        else:
            layout += _sized(name, rows.dtype[name])
    packed = np.zeros(len(rows), np.dtype(layout))
    packed["fields"] = len(columns)
    for name in columns:
        if name in fixed:
            packed[name] = np.void(fixed[name])
        else:
            packed[f"length of {name}"] = rows.dtype[name].itemsize
            packed[name] = rows[name]
    return packed.tobytes()


def _field(value: Value) -> bytes:
    if value is None:
        return (-1).to_bytes(4, "big", signed=True)
    text = value.encode() if isinstance(value, str) else value
    return len(text).to_bytes(4, "big") + text


def _sized(name: str, size: np.dtype[Any]) -> list[tuple[str, str]]:
    return [(f"length of {name}", ">i4"), (name, size.newbyteorder(">").str)]
