"""Tables as files that spreadsheets open: UTF-8 with its mark, and no cell that could be run as a formula. Pure."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence

FORMULA_STARTS = "=+-@\uff1d\uff0b\uff0d\uff20\u2212"
"""What a spreadsheet program takes for the beginning of a formula, in its narrow and its full width.

Advice of OWASP as adopted by a web framework, symfony.com/blog/cve-2021-41270-prevent-csv-injection-via-formulas;
the line feed was added to it in August 2025 (OWASP/www-community, pull request 1116). Full width and the
typographic minus: our choice, they cost nothing.
"""
GUARD = "'"
_BREAK = re.compile(r"(\r\n|\r|\n)")
_BLANKS = re.compile(r"[\s\x00-\x1f\u200b-\u200f\u2060\ufeff]*")


def guarded(text: str) -> str:
    """The text, with an apostrophe before each line that a spreadsheet would run.

    A line that begins with an apostrophe gets a second one: so `unguarded` gives back exactly what was there.
    """
    pieces = _BREAK.split(text)
    for at in range(0, len(pieces), 2):
        first = at == 0 and len(pieces) > 1
        if _would_run(pieces[at], before_a_break=first):
            pieces[at] = GUARD + pieces[at]
    return "".join(pieces)


def unguarded(text: str) -> str:
    """What `guarded` was given: each line without its first apostrophe."""
    pieces = _BREAK.split(text)
    pieces[::2] = [line.removeprefix(GUARD) for line in pieces[::2]]
    return "".join(pieces)


def _would_run(line: str, *, before_a_break: bool) -> bool:
    found = _BLANKS.match(line)
    blanks = found.group() if found else ""
    rest = line[len(blanks) :]
    # A cell that begins with a tab or a line break is run after it, blanks or not.
    return (
        rest.startswith(tuple(FORMULA_STARTS))
        or "\t" in blanks
        or line.startswith(GUARD)
        or (before_a_break and not rest)
    )


def csv_file(heading: Sequence[str], rows: Iterable[Sequence[str]]) -> bytes:
    """A file after RFC 4180 with a heading row; every cell is text and guarded."""
    file = io.StringIO(newline="")
    writer = csv.writer(file, lineterminator="\r\n")
    writer.writerow(heading)
    writer.writerows([guarded(cell) for cell in row] for row in rows)
    return file.getvalue().encode("utf-8-sig")
