"""How much of a file that comes back is taken into memory at all: refused before it is unfolded."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from typing import TextIO

from counts.tables.limits import MOST_LINE

MB = 1024 * 1024
MOST_BYTES = 20 * MB
"""Of the file as it is sent; our choice. How large ten years of a keeper are: docs/reference/figures.md."""
MOST_JSON_BYTES = 16 * MB
"""JSON lies in memory as a whole, many times as large; whoever has more takes the zip (our choice)."""
LEAST_VALUE = 6
"""Bytes that a value of a row has at least, with its name and a comma: "at":1, has seven."""
SPARE = 10_000
"""Brackets that are no rows: tables, the stamp, and those in texts; commas in texts; blank lines."""


class TooMuch(ValueError):
    """More than an export holds."""


def refuse_json(data: bytes, rows: int) -> None:
    """Each row is an object, so there cannot be many more objects and lists than rows, nor many more values than
    their names have room for. Errors: TooMuch.
    """
    nested = data.count(b"{") + data.count(b"[")
    if nested > rows + SPARE or data.count(b",") > len(data) // LEAST_VALUE + SPARE:
        raise TooMuch


class _Lines:
    """The lines of a text; those of one row, together, are no longer than a line may be."""

    def __init__(self, text: TextIO) -> None:
        self.text, self.taken = text, 0

    def __iter__(self) -> Iterator[str]:
        return self

    def __next__(self) -> str:
        line = self.text.readline(MOST_LINE + 1)
        self.taken += len(line)
        if self.taken > MOST_LINE:
            raise TooMuch
        if not line:
            raise StopIteration
        return line


def csv_rows(text: TextIO) -> Iterator[list[str]]:
    """The rows of a CSV file, one at a time. Errors: TooMuch; csv.Error."""
    lines = _Lines(text)
    for row in csv.reader(lines, strict=True):
        lines.taken = 0
        yield row
