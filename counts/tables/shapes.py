"""What is asked of a table and what comes back, as plain values. Pure."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

Kind = Literal["csv", "xlsx"]
Cell = str | None

DELIMITERS = (",", ";", "\t", "|")
"""What may part the cells of a line of text."""
ENCODINGS = ("utf-8", "utf-16", "utf-16-le", "utf-16-be", "cp1252", "latin-1", "mac-roman", "cp850", "cp1250")
"""The encodings that are guessed, and that somebody may choose: names of Python's standard library."""


@dataclass(frozen=True, slots=True)
class Choices:
    """What somebody decided for a file; None is guessed. `header_row` counts from 1, as `Row.n` does.

    `exact`: texts of a workbook come letter by letter as they stand in it, with blanks, line ends and odd signs: for
    workbooks that this service wrote itself.
    """

    sheet: str | None = None
    encoding: str | None = None
    delimiter: str | None = None
    header_row: int | None = None
    exact: bool = False


GUESSED = Choices()


@dataclass(frozen=True, slots=True)
class Row:
    """A row with something in it.

    `n` is its number in the file, from 1: the line of a CSV where it begins, the row of a workbook. A cell is text
    without blanks around it, or None where it is empty. Typed cells of a workbook come as 2026-08-12,
    2026-08-12T10:30:00, 10:30:00, 2.5, 2.5%, TRUE.
    """

    n: int
    cells: tuple[Cell, ...]


@dataclass(slots=True)
class Found:
    """What the reading process found out about a file, besides its rows."""

    kind: Kind
    header_row: int
    headings: list[str]
    row_count: int = 0
    sheets: list[str] = field(default_factory=list)
    sheet: str | None = None
    encoding: str | None = None
    delimiter: str | None = None
    merged: bool = False
    formulas: int = 0
    since_1904: bool = False
