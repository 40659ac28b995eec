"""Clubs' own tables, CSV or XLSX, read within limits by a process that is thrown away afterwards.

    with read_table(path, name="counts 2026.xlsx") as table:
        for row in table.rows():
            row.n, row.cells

What cannot be read raises `CannotRead`, whose sentence says what to do. Nothing here knows what a column means.
"""

from counts.tables.reading import read_table
from counts.tables.refusals import CannotRead, Why, sentence_of
from counts.tables.shapes import DELIMITERS, ENCODINGS, GUESSED, Choices, Row
from counts.tables.table import Table

__all__ = [
    "DELIMITERS",
    "ENCODINGS",
    "GUESSED",
    "CannotRead",
    "Choices",
    "Row",
    "Table",
    "Why",
    "read_table",
    "sentence_of",
]
