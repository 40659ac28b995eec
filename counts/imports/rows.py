"""A row of a sheet as it stands and as it was understood, and what whoever brings it in said beside it. Pure."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from counts.imports.columns import Column, Meaning
from counts.imports.days import SERIAL_START, DayOrder
from counts.imports.reasons import Reason
from counts.samples import BeesBy, Method

LARGEST, LONGEST_NOTE = 99_999, 500


@dataclass(frozen=True, slots=True)
class Options:
    """What the sheet does not say, said by whoever brings it in; bees per measure as published."""

    today: dt.date
    order: DayOrder | None = None
    serial_start: dt.date = SERIAL_START
    method: Method | None = None
    measure: int | None = None
    """Bees that every jar is taken as where the sheet names none."""
    method_words: Mapping[str, Method] = field(default_factory=dict)
    """What words of the sheet's own stand for, by `plain` word."""
    treated: bool | None = None
    bees_per_100_ml: int = 0
    bees_per_gram: Decimal = Decimal(0)


@dataclass(slots=True)
class Row:
    """One line of the sheet: its number in the file and the texts of its cells by what they hold."""

    number: int
    texts: Mapping[Column, str]
    heading_bees: int | None = None
    """Bees that the heading of the mites names ("mites/300")."""

    def get(self, column: Column) -> str:
        """The text of a cell; empty when it is blank or there is no such column."""
        return self.texts.get(column, "")


@dataclass(slots=True)
class Cells:
    """The meaning of a row. No mites means not counted. `wrong`: it makes no count; `odd`: somebody must say so."""

    day: dt.date | None = None
    method: Method | None = None
    mites: int | None = None
    bees: int | None = None
    bees_by: BeesBy | None = None
    board_days: Decimal | None = None
    cells_counted: int | None = None
    cells_total: int | None = None
    treated: bool | None = None
    brood: str = "unknown"
    note: str = ""
    wrong: list[Reason] = field(default_factory=list)
    odd: list[Reason] = field(default_factory=list)

    def refuse(self, column: Column, kind: str, **values: str | int) -> None:
        self.wrong.append(Reason(column, kind, values))

    def ask(self, column: Column, kind: str, **values: str | int) -> None:
        self.odd.append(Reason(column, kind, values))

    def refused(self, *columns: Column) -> bool:
        return any(reason.column in columns for reason in self.wrong)


_QUOTED = re.compile(r"'(?=[=+\-@])")


def _text(cell: str | None) -> str:
    return " ".join((_QUOTED.sub("", cell, count=1) if cell and cell[0] == "'" else cell or "").split())


def any_filled(rows: Iterable[Sequence[str | None]], meanings: Mapping[int, Meaning], column: Column) -> bool:
    """Whether any row has something in the cell of that column; False where the sheet has no such column."""
    places = [place for place, meaning in meanings.items() if meaning.column is column]
    return bool(places) and any(
        _text(cells[place]) for cells in rows for place in places if place < len(cells)
    )


def row_of(number: int, cells: Sequence[str | None], meanings: Mapping[int, Meaning]) -> Row:
    """The cells that mean something, each under what it holds; without the mark that guards against formulas."""
    texts = {
        meaning.column: text
        for place, meaning in meanings.items()
        if place < len(cells) and (text := _text(cells[place]))
    }
    bees = next((meaning.bees for meaning in meanings.values() if meaning.bees is not None), None)
    return Row(number, texts, bees)
