"""What the cells of one row of a sheet mean: day, method, numbers. What has no single meaning is a reason. Pure."""

from __future__ import annotations

import datetime as dt

from counts.imports.amounts import board, jar, whole
from counts.imports.columns import Column, plain
from counts.imports.days import LONG_AGO, NotADay, TwoMeanings, read_sheet_day, year_first
from counts.imports.reasons import Kind
from counts.imports.rows import LARGEST, LONGEST_NOTE, Cells, Options, Row
from counts.imports.words import BROOD, NONE_WORDS, method_in, split_in
from counts.samples import JAR_KINDS, Method, Problem, kind_of
from counts.samples import Kind as MethodKind


def cells_of(row: Row, options: Options) -> Cells:
    """What the row says."""
    said = Cells(note=row.get(Column.NOTE)[:LONGEST_NOTE])
    if len(row.get(Column.NOTE)) > LONGEST_NOTE:
        said.ask(Column.NOTE, Kind.NOTE_CUT, most=LONGEST_NOTE)
    said.day = _day(row, said, options)
    said.method = _method(row, said, options)
    if not any(row.get(one) for one in (Column.MITES, Column.PERCENT, Column.DROP, Column.PER_DAY)):
        said.ask(Column.MITES, Kind.NOT_COUNTED)
        return said  # nothing else is asked of the row
    kind = kind_of(said.method) if said.method else None
    said.mites, in_cell = _mites(row, said)
    if kind in JAR_KINDS:
        jar(row, said, options, in_cell)
    elif in_cell is not None and kind is MethodKind.BOARD:
        said.refuse(Column.MITES, Kind.BOARD_WITH_BEES, text=row.get(Column.MITES))
    if kind is MethodKind.BOARD:
        board(row, said, options)
    if kind is MethodKind.DRONE_BROOD:
        said.cells_counted = whole(row, Column.CELLS, said) or in_cell
        if not said.cells_counted:
            said.refuse(Column.CELLS, Kind.CELLS_MISSING)
    _brood(row, said)
    return said


def _day(row: Row, said: Cells, options: Options) -> dt.date | None:
    text = row.get(Column.DATE)
    if not text:
        said.refuse(Column.DATE, Kind.DAY_MISSING)
        return None
    try:
        day = read_sheet_day(text, options.order, options.today, options.serial_start)
    except TwoMeanings as error:
        one, two = error.one.isoformat(), error.two.isoformat()
        said.refuse(Column.DATE, Kind.DAY_TWO_MEANINGS, text=text, one=one, two=two)
        return None
    except NotADay:
        said.refuse(Column.DATE, Kind.DAY_NOT_READ, text=text)
        return None
    if day > options.today:
        said.refuse(Column.DATE, Problem.IN_THE_FUTURE)
    if day.year < 1900:
        said.refuse(Column.DATE, Kind.DAY_TOO_EARLY, text=text)
    else:
        # Of two readings of 26-08-12 the later one is the likelier: where it was not taken, somebody must say so.
        other = year_first(text, options.today)
        if day < LONG_AGO or (other is not None and other > day):
            said.ask(Column.DATE, Kind.DAY_TAKEN, text=text, day=day.isoformat())
    return day


def _method(row: Row, said: Cells, options: Options) -> Method | None:
    on_board = bool(row.get(Column.DROP) or row.get(Column.PER_DAY))
    in_jar = bool(row.get(Column.MITES) or row.get(Column.PERCENT))
    text = row.get(Column.METHOD)
    if on_board and in_jar:
        said.refuse(Column.MITES, Kind.TWO_COUNTS)
        return None
    if not text:
        # What fell down fell on a board: that column names its method itself.
        method = Method.BOARD if on_board else options.method
        if method is None:
            said.refuse(Column.METHOD, Kind.METHOD_MISSING)
        return method
    method = options.method_words.get(plain(text)) or method_in(text)
    if method is None:
        said.refuse(Column.METHOD, Kind.METHOD_UNKNOWN, text=text)
    elif on_board and method is not Method.BOARD:
        said.refuse(Column.METHOD, Kind.TWO_COUNTS)
        return None
    return method


def _mites(row: Row, said: Cells) -> tuple[int | None, int | None]:
    """Mites and, where the cell reads 7/300, the bees (or opened cells) in it."""
    column = Column.DROP if row.get(Column.DROP) else Column.MITES
    text = row.get(column)
    if text.casefold() in NONE_WORDS:
        said.ask(column, Kind.NONE_WORD, text=text)
        return 0, None
    if found := split_in(text):
        if max(found) > LARGEST:
            said.refuse(column, Kind.TOO_BIG, most=LARGEST)
            return None, None
        return found
    return whole(row, column, said), None


def _brood(row: Row, said: Cells) -> None:
    text = row.get(Column.BROOD)
    if text:
        said.brood = BROOD.get(text.casefold(), "unknown")
        if said.brood == "unknown":
            said.ask(Column.BROOD, Kind.BROOD_NOT_READ, text=text)
