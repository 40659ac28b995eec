"""Reads a club's sheet of counts: bytes into rows whose cells are known by their headings. Nothing is decided here.

Any encoding and delimiter that clubs send; a file that is no sheet raises `SheetNotRead`, whose text says what to do.
"""

import codecs
import csv
import io
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from charset_normalizer import from_bytes

MOST_BYTES = 5 * 1024 * 1024
MOST_ROWS = 50_000
HEADING_LINES = 15  # headings may come after a title and some empty lines
DELIMITERS = (",", ";", "\t", "|")

HEADINGS: Mapping[str, tuple[str, ...]] = {
    "yard": ("yard", "apiary", "site", "place", "location"),
    "colony": (
        "colony",
        "hive",
        "#",
        "no",
        "nr",
        "number",
        "colony no",
        "hive no",
        "colony number",
        "hive number",
    ),
    "date": ("date", "day", "counted on", "sampled on", "date counted", "count date"),
    "method": ("method", "how", "kind", "type"),
    "mites": ("mites", "varroa", "mite count", "count", "mites found", "mites/bees", "mites of bees", "drop"),
    "bees": ("bees", "bees counted", "sample size", "n", "number of bees", "bees in jar"),
    "volume": ("volume", "volume ml", "ml", "bees ml", "ml of bees", "millilitres"),
    "days": ("days", "days on board", "board days", "days in hive"),
    "cells": ("cells", "cells counted", "cells opened", "drone cells", "squares", "squares counted"),
    "cells_total": ("cells total", "total cells", "all cells", "cells on board", "of cells", "squares total"),
    "treated": ("treatment in hive", "treatment in the hive", "treated", "under treatment"),
    "note": ("note", "notes", "remark", "remarks", "comment", "comments"),
}
_KNOWN = {name: column for column, names in HEADINGS.items() for name in names}
_BOMS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


class SheetNotRead(ValueError):
    """The file is no sheet of counts; the text says what to do."""


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One line: its number in the file (from 1) and its cells by column, those that are filled."""

    number: int
    cells: Mapping[str, str]

    def get(self, column: str) -> str:
        """The text of a cell; empty when it is blank or there is no such column."""
        return self.cells.get(column, "")


@dataclass(frozen=True, slots=True)
class Sheet:
    """The rows, the heading that each column was known by, and headings that mean nothing here."""

    rows: tuple[SheetRow, ...]
    columns: Mapping[str, str]
    unknown: tuple[str, ...] = field(default=())


def read_sheet(data: bytes) -> Sheet:
    """The sheet in a file. Errors: `SheetNotRead` for a file too big, empty, not text, or without headings."""
    if len(data) > MOST_BYTES:
        raise SheetNotRead("The file is larger than 5 MB. Split it by year.")
    if not data.strip(b"\0\t\r\n \xef\xbb\xbf\xff\xfe"):
        raise SheetNotRead("The file is empty.")
    text = _text(data)
    lines = max(
        (_lines(text, delimiter) for delimiter in DELIMITERS), key=lambda read: _best_heading(read)[0]
    )
    known, at = _best_heading(lines)
    if known < 2:
        raise SheetNotRead(
            "No line with headings was found. It needs at least colony, date and mites, in the first lines."
        )
    return _sheet(lines, at)


def _text(data: bytes) -> str:
    if data.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0")):
        raise SheetNotRead("This is a workbook. Save the sheet as CSV first, then import that file.")
    encoding = next((name for bom, name in _BOMS if data.startswith(bom)), None) or _without_bom(data)
    try:
        text = data.decode(encoding) if encoding else ""
    except UnicodeDecodeError:
        text = ""
    odd = sum(1 for letter in text if ord(letter) < 32 and letter not in "\t\r\n\f")
    if not text or odd:
        raise SheetNotRead("The file is not text. Save the sheet as CSV, then import that file.")
    return text


def _without_bom(data: bytes) -> str | None:
    """UTF-8 if it is that; UTF-16 where every other byte of plain letters is 0; else the likeliest."""
    start = data[:2000]
    for name, zeros in (("utf-16-le", start[1::2]), ("utf-16-be", start[::2])):
        if zeros.count(0) > 0.6 * len(zeros):
            return name
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        best = from_bytes(data).best()
        return best.encoding if best is not None else None
    return "utf-8"


def _lines(text: str, delimiter: str) -> list[tuple[int, list[str]]]:
    """Number and cells of every line; a number counts lines of the file, also inside quotes."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    lines, start = [], 1
    try:
        for cells in reader:
            lines.append((start, [" ".join(cell.split()) for cell in cells]))
            start = reader.line_num + 1
            if len(lines) > MOST_ROWS + HEADING_LINES:
                raise SheetNotRead("The sheet has more than 50,000 rows. Split it by year.")
    except csv.Error as error:
        raise SheetNotRead(f"Line {reader.line_num} cannot be read as a row of a sheet ({error}).") from error
    return lines


def _best_heading(lines: list[tuple[int, list[str]]]) -> tuple[int, int]:
    """How many headings the likeliest of the first lines has, and which line that is."""
    scores = [
        (len(set(_columns(cells).values())), -at) for at, (_, cells) in enumerate(lines[:HEADING_LINES])
    ]
    known, at = max(scores, default=(0, 0))
    return known, -at


def _columns(cells: Iterable[str]) -> dict[int, str]:
    """The column that each heading stands for; the first of two that mean the same is taken."""
    found: dict[int, str] = {}
    for at, cell in enumerate(cells):
        plain = re.sub(r"[^a-z0-9#/]+", " ", cell.lower()).strip()
        column = _KNOWN.get(plain)
        if column is not None and column not in found.values():
            found[at] = column
    return found


def _sheet(lines: list[tuple[int, list[str]]], at: int) -> Sheet:
    headings = lines[at][1]
    columns = _columns(headings)
    if missing := [name for name in ("colony", "date", "mites") if name not in columns.values()]:
        raise SheetNotRead(
            f"No column for {' and '.join(missing)} was found. Headings are: {', '.join(filter(None, headings))}."
        )
    rows = []
    for number, cells in lines[at + 1 :]:
        filled = {
            column: cells[place] for place, column in columns.items() if place < len(cells) and cells[place]
        }
        if filled:
            rows.append(SheetRow(number, filled))
    unknown = tuple(name for place, name in enumerate(headings) if name and place not in columns)
    return Sheet(tuple(rows), {column: headings[place] for place, column in columns.items()}, unknown)
