"""A CSV of any encoding and delimiter, row by row. Pure."""

from __future__ import annotations

import contextlib
import csv
import io
import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from itertools import islice
from typing import BinaryIO

from counts.tables.cells import row_of
from counts.tables.encodings import encoding_of
from counts.tables.headings import heading_index, known_headings
from counts.tables.limits import HEADING_ROWS, MOST_CELL, MOST_LINE
from counts.tables.refusals import Refused, Why
from counts.tables.shapes import DELIMITERS, Cell, Choices

Numbered = tuple[int, list[Cell]]

# A tab, a page break and the end mark of old systems are not odd in a text.
_ODD = re.compile(r"[\x00-\x08\x0e-\x19\x1b-\x1f]")
_MANY_ODD = 1 / 200  # of the letters of the first lines; text has none, a binary file about one in ten
_SAMPLE_LINES = 60
# A first line that tells spreadsheet programs the delimiter.
_SAID = re.compile(r"sep=(.)\s*", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Text:
    """How the file's text is to be taken apart."""

    file: BinaryIO
    encoding: str
    delimiter: str
    quote: str = '"'

    def rows(self) -> Iterator[Numbered]:
        """Every row with something in it: its first line in the file, from 1, and its cells. Errors: Refused."""
        return _rows(_lines(self.file, self.encoding), self.delimiter, self.quote)


def text_in(file: BinaryIO, choices: Choices, known: Collection[str] = ()) -> Text:
    """What the file's text is, as far as nobody chose. Errors: Refused ENCODING, DELIMITER, NOT_A_SHEET, LINE."""
    if choices.delimiter is not None and choices.delimiter not in DELIMITERS:
        raise Refused(Why.DELIMITER)
    encoding = _fitting(file, choices.encoding) if choices.encoding else encoding_of(file)
    sample = list(islice(_lines(file, encoding), _SAMPLE_LINES))
    text = "".join(sample)
    if "\0" in text or len(_ODD.findall(text)) > len(text) * _MANY_ODD:
        raise Refused(Why.NOT_A_SHEET)
    said = _SAID.fullmatch(sample[0]) if sample else None
    ways = (choices.delimiter,) if choices.delimiter else DELIMITERS
    if said and said[1] in ways:
        ways = (said[1],)
    best = max(ways, key=lambda way: _likeness(sample, way, known))  # the first of equals
    return Text(file, encoding, best, _quote(text, best))


def _fitting(file: BinaryIO, encoding: str) -> str:
    """The chosen encoding; with its mark at the start of the file taken off."""
    if encoding in ("utf-8", "utf-16-le", "utf-16-be"):
        file.seek(0)
        start = file.read(3)
        if start.startswith(b"\xef\xbb\xbf") and encoding == "utf-8":
            return "utf-8-sig"
        if start[:2] in (b"\xff\xfe", b"\xfe\xff") and encoding != "utf-8":
            return "utf-16"
    return encoding


def _lines(file: BinaryIO, encoding: str) -> Iterator[str]:
    """The lines with their ends. Errors: Refused ENCODING where the bytes do not fit, LINE, NOT_A_SHEET."""
    file.seek(0)
    try:
        reader = io.TextIOWrapper(file, encoding=encoding, newline="")
    except LookupError as error:
        raise Refused(Why.ENCODING, encoding=encoding) from error
    n = 0
    try:
        while line := reader.readline(MOST_LINE + 1):
            n += 1
            if len(line) > MOST_LINE:
                raise Refused(Why.LINE, row=n)
            if "\0" in line:
                raise Refused(Why.NOT_A_SHEET)
            yield line
    except UnicodeError as error:
        raise Refused(Why.ENCODING, encoding=encoding) from error
    finally:
        reader.detach()


def _rows(lines: Iterator[str], delimiter: str, quote: str) -> Iterator[Numbered]:
    taken: list[str] = []

    def remembered() -> Iterator[str]:
        for line in lines:
            taken.append(line)
            yield line

    csv.field_size_limit(10 * MOST_CELL)
    reader = csv.reader(remembered(), delimiter=delimiter, quotechar=quote)
    start = 1
    try:
        for cells in reader:
            if len(taken) > 1 and sum(line.count(quote) for line in taken) % 2:
                raise Refused(Why.QUOTE, row=start)
            if cells and (filled := row_of(start, cells)):
                yield start, filled
            start = reader.line_num + 1
            taken.clear()
    except csv.Error as error:
        raise Refused(Why.LINE, row=start) from error


def _likeness(sample: list[str], delimiter: str, known: Collection[str]) -> tuple[int, bool, float, int]:
    """How much the first lines look like a table with this delimiter; more is better, the first figures count most.

    Known headings; whether all lines have equally many cells; cells in full rows; few rows above the headings.
    """
    quote = _quote("".join(sample), delimiter)
    rows: list[Numbered] = []
    with contextlib.suppress(Refused):  # the sample may end within quotes; what was read before counts
        for row in _rows(iter(sample), delimiter, quote):
            rows.append(row)
    cells = [found for _, found in rows]
    at = heading_index(cells, known, among=sum(1 for n, _ in rows if n <= HEADING_ROWS))
    if at is None:
        return 0, False, 0, 0
    widths: set[int] = set()
    with contextlib.suppress(csv.Error):
        widths = {len(row) for row in csv.reader(sample, delimiter=delimiter, quotechar=quote) if row}
    wide = len(cells[at])
    below = [len(row) for row in cells[at + 1 :]]
    full = sum(1 for width in below if 1 < width <= wide) / len(below) if below else 1
    return known_headings(cells[at], known), len(widths) == 1, wide * full, -at


def _quote(text: str, delimiter: str) -> str:
    """The sign that cells are quoted by: " unless cells stand between ' and none between "."""
    edge = f"(?:^|{re.escape(delimiter)})"
    if re.search(f'{edge}"', text, re.MULTILINE):
        return '"'
    within = re.findall(f"{edge}'[^'\n]*'(?={re.escape(delimiter)}|\r?$)", text, re.MULTILINE)
    return "'" if len(within) > 2 else '"'
