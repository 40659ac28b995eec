"""One cell as text: what is kept of it, and typed values of workbooks written one way. Pure."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable
from decimal import Decimal

from counts.tables.limits import MOST_CELL, MOST_COLUMNS
from counts.tables.refusals import Refused, Why
from counts.tables.shapes import Cell

_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]|[\ud800-\udfff]")
_LINE_ENDS = re.compile(r"\r\n?")
_DIGITS = 15  # as many as spreadsheet programs show; a number's further ones are noise of binary fractions


def clean(text: str) -> Cell:
    """The text without blanks around it and without signs that no page or file can show; None if nothing is left."""
    if _CONTROL.search(text):
        text = _CONTROL.sub(" ", text)
    if "\r" in text:
        text = _LINE_ENDS.sub("\n", text)
    return text.strip() or None


def row_of(n: int, texts: Iterable[Cell], *, exact: bool = False) -> list[Cell]:
    """The cells of row `n` without empty ones at the end; `exact` ones as they are. Errors: Refused COLUMNS or CELL."""
    cells = [(text if exact else clean(text)) if text else None for text in texts]
    while cells and cells[-1] is None:
        cells.pop()
    if len(cells) > MOST_COLUMNS:
        raise Refused(Why.COLUMNS, row=n, most=MOST_COLUMNS)
    for at, cell in enumerate(cells):
        if cell is not None and len(cell) > MOST_CELL:
            raise Refused(Why.CELL, row=n, column=letters(at + 1), most=MOST_CELL)
    return cells


def letters(column: int) -> str:
    """A for 1, Z for 26, AA for 27: columns as spreadsheet programs name them."""
    name = ""
    while column > 0:
        column, at = divmod(column - 1, 26)
        name = chr(ord("A") + at) + name
    return name


def text_of(value: object, *, percent: str = "") -> Cell:
    """A typed value as text.

    `percent`: "of 1" if the format shows it as a percentage, so that 0.025 is 2.5%; "as is" if it only writes the
    sign behind the number; "" otherwise.
    """
    if value is None or isinstance(value, str):
        return value
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, (int, float)):
        return number_text(value, percent=percent)
    if isinstance(value, dt.datetime):
        whole = value.replace(microsecond=0)
        return whole.date().isoformat() if whole.time() == dt.time() else whole.isoformat()
    if isinstance(value, dt.time):
        return value.replace(microsecond=0).isoformat()
    if isinstance(value, dt.timedelta):
        minutes, seconds = divmod(round(value.total_seconds()), 60)
        return f"{minutes // 60}:{minutes % 60:02}:{seconds:02}"
    return str(value)


def number_text(value: float, *, percent: str = "") -> str:
    """The shortest text that a spreadsheet would show for the number, without exponents: 300, 2.5, 0.3."""
    if isinstance(value, float) and (value != value or value in (float("inf"), float("-inf"))):
        return str(value)
    number = Decimal(value if isinstance(value, int) else f"{value:.{_DIGITS}g}")
    if percent == "of 1":
        number *= 100
    text = f"{number:f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return f"{text}%" if percent else text


def percent_of(number_format: str) -> str:
    """What `text_of` takes as `percent`, for a number format such as 0.0% or 0"%"."""
    bare = re.sub(r'"[^"]*"|\\.', "", number_format)
    if "%" in bare:
        return "of 1"
    return "as is" if "%" in number_format else ""
