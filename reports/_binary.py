"""PostgreSQL's binary form to and from numpy, for tables of numbers and dates: a million rows in some seconds.

psycopg makes a Python object of every field, which takes ten times as long. The format: PostgreSQL manual, COPY,
"Binary Format": a head, then for each row the number of fields and each field's length and bytes, big end first.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
import numpy.typing as npt
from django.db import connection
from psycopg import Cursor

from apiaries.second_lock import as_the_service, told

Rows = npt.NDArray[np.void]
"""A structured array: one record a row."""

Value = str | bytes | None
"""A text, the bytes of a field as PostgreSQL sends it, or NULL."""

HEAD = b"PGCOPY\n\xff\r\n\0" + bytes(8)
END = b"\xff\xff"
ARRAY_HEAD = 20
DAY_ZERO = date(2000, 1, 1).toordinal()


def day_of(on: date) -> int:
    """A date as PostgreSQL keeps it: days since 2000."""
    return on.toordinal() - DAY_ZERO


def date_of(day: int) -> date:
    """The date of such a number of days."""
    return date.fromordinal(int(day) + DAY_ZERO)


@dataclass(frozen=True, slots=True)
class Question:
    """A query and what its columns are: those of `dtype` in order, of exactly these sizes, and never NULL: bigint i8,
    integer and date i4, smallint i2, double precision f8."""

    query: str
    parameters: Sequence[Any]
    dtype: np.dtype[np.void]


def read_rows(query: str, parameters: Sequence[Any], dtype: np.dtype[np.void]) -> Rows:
    """What one query gives; see `Question`."""
    return read_together(Question(query, parameters, dtype))[0]


def read_together(*asked: Question) -> list[Rows]:
    """What the queries give, all in one round trip. Sums of whole regions: the program itself reads."""
    parts = ", ".join(f"({_in_columns(one)}) AS part{place}" for place, one in enumerate(asked))
    parameters = [parameter for one in asked for parameter in one.parameters]
    with as_the_service(), told(), _bare_cursor() as cursor:
        whole = f"SELECT * FROM {parts}"  # noqa: S608  (queries of our own)
        result: Any = cursor.execute(whole, parameters, binary=True).pgresult
        fields = iter([result.get_value(0, place) for place in range(result.nfields)])
        return [_rows_of(one.dtype, fields) for one in asked]


def _in_columns(asked: Question) -> str:
    """Each column as one array: row by row, the reading would take several times as long as the adding up."""
    names = [f"c{place}" for place in range(len(asked.dtype.names or ()))]
    arrays = ", ".join(f"array_agg({name})" for name in names)
    return f"SELECT count(*)::bigint, {arrays} FROM ({asked.query}) AS whole ({', '.join(names)})"  # noqa: S608


def _rows_of(dtype: np.dtype[np.void], fields: Iterator[bytes | None]) -> Rows:
    rows = np.empty(int.from_bytes(next(fields) or b"", "big"), dtype)
    for name in dtype.names or ():
        rows[name] = _elements(next(fields), len(rows), dtype[name])
    return rows


def _elements(array: bytes | None, number: int, size: np.dtype[Any]) -> npt.NDArray[Any]:
    """The elements of an array as PostgreSQL sends it: a head of twenty bytes, then each with its length."""
    if array is None:
        return np.empty(0, size)
    laid_out = np.dtype(_sized("element", size))
    if array[7] or len(array) != ARRAY_HEAD + number * laid_out.itemsize:
        raise ValueError("a column is NULL or of another size than asked for")
    elements: npt.NDArray[Any] = np.frombuffer(array, laid_out, offset=ARRAY_HEAD)["element"]
    return elements


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
def _bare_cursor() -> Iterator[Cursor[Any]]:
    """psycopg's own: Django's reads text only, and its wrapper for counting queries knows no COPY."""
    connection.ensure_connection()
    with connection.wrap_database_errors, Cursor(connection.connection) as cursor:
        yield cursor


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
