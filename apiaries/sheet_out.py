"""Tables as files that spreadsheets open: UTF-8 with its mark, and no cell that could be run as a formula. Pure."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
"""A cell that begins so is run by spreadsheet programs.

Advice of OWASP as adopted by a web framework, symfony.com/blog/cve-2021-41270-prevent-csv-injection-via-formulas.
"""


def guarded(text: str) -> str:
    """The text, with an apostrophe before it where a spreadsheet would run it."""
    return f"'{text}" if text.startswith(FORMULA_STARTS) else text


def csv_file(heading: Sequence[str], rows: Iterable[Sequence[str]]) -> bytes:
    """A file after RFC 4180 with a heading row; every cell is text and guarded."""
    file = io.StringIO(newline="")
    writer = csv.writer(file, lineterminator="\r\n")
    writer.writerow(heading)
    writer.writerows([guarded(cell) for cell in row] for row in rows)
    return file.getvalue().encode("utf-8-sig")
