"""How many mites, in how many bees or days: the numbers of one row, and what is missing among them. Pure."""

from __future__ import annotations

from decimal import Decimal

from counts.imports.columns import Column
from counts.imports.reasons import Kind
from counts.imports.rows import LARGEST, Cells, Options, Row
from counts.imports.words import NO, YES, decimal_in, mites_of_share, whole_in, without_unit
from counts.samples import BeesBy, Problem


def jar(row: Row, said: Cells, options: Options, in_cell: int | None) -> None:
    bees = whole(row, Column.BEES, said)
    volume, weight = (
        _decimal(row, Column.VOLUME, said, "ml"),
        _decimal(row, Column.WEIGHT, said, "g", "gramm"),
    )
    if bees is not None and in_cell is not None and bees != in_cell:
        said.refuse(Column.BEES, Kind.BEES_TWICE, bees=bees, other=in_cell)
    said.bees = in_cell if bees is None else bees
    # A sheet does not say whether somebody counted every bee, so the wider range is the honest one.
    said.bees_by = BeesBy.NOMINAL
    if said.bees is None and (volume is not None or weight is not None):
        measured = (
            (volume or 0) * options.bees_per_100_ml / 100 if volume else (weight or 0) * options.bees_per_gram
        )
        said.bees, said.bees_by = int(Decimal(measured).to_integral_value()), BeesBy.VOLUME
    if said.bees is None and row.heading_bees is not None:
        said.bees = row.heading_bees
    if said.bees is None and options.measure is not None:
        said.bees, said.bees_by = options.measure, BeesBy.VOLUME
    if said.refused(Column.BEES, Column.VOLUME, Column.WEIGHT):
        return
    if row.get(Column.PERCENT):
        _share(row, said)
    elif said.bees is None:
        said.refuse(Column.BEES, Kind.BEES_MISSING)
    if said.bees is not None and said.bees < 1:
        said.refuse(Column.BEES, Problem.BEES_NOT_POSITIVE)


def _share(row: Row, said: Cells) -> None:
    """A percentage becomes mites only where one number of mites, and no other, is what it says."""
    text = without_unit(row.get(Column.PERCENT), "%")
    if not said.bees:
        if said.mites is None:
            said.refuse(Column.PERCENT, Kind.PERCENT_ALONE)
        else:
            said.refuse(Column.BEES, Kind.BEES_MISSING)
        return
    told = mites_of_share(text, said.bees)
    if told is None:
        # Mites and bees are the count; a share beside them only tells whether they fit.
        add = said.refuse if said.mites is None else said.ask
        add(Column.PERCENT, Kind.NOT_A_NUMBER, text=row.get(Column.PERCENT))
        return
    exact, possible = told
    bees = said.bees
    if said.mites is not None:
        if said.mites not in possible:
            said.ask(Column.PERCENT, Kind.PERCENT_DIFFERS, text=text, mites=said.mites, bees=bees)
    elif row.get(Column.MITES):
        return  # the mites are there and were refused
    elif not possible:
        said.refuse(Column.PERCENT, Kind.PERCENT_NOT_WHOLE, text=text, bees=bees)
    elif len(possible) == 1:
        said.mites = possible[0]
    elif exact == exact.to_integral_value():
        said.mites = int(exact)
        said.ask(
            Column.PERCENT, Kind.PERCENT_ROUNDED,
            text=text, bees=bees, mites=said.mites, low=possible[0], high=possible[-1],
        )  # fmt: skip
    else:
        said.refuse(
            Column.PERCENT, Kind.PERCENT_OPEN, text=text, bees=bees, low=possible[0], high=possible[-1]
        )


def board(row: Row, said: Cells, options: Options) -> None:
    said.board_days = _decimal(row, Column.DAYS, said, "days", "day", "tage", "tag", "d", small=True)
    if said.board_days is None:
        if not said.refused(Column.DAYS):
            said.refuse(Column.DAYS, Kind.DAYS_MISSING)
    elif not 0 < said.board_days < 100:
        said.refuse(Column.DAYS, Kind.DAYS_RANGE)
    elif said.board_days != round(said.board_days, 1):
        said.refuse(Column.DAYS, Kind.DAYS_FINE)
    elif said.mites is None and row.get(Column.PER_DAY):
        _from_rate(row, said, said.board_days)
    _part_of_board(row, said)
    text = row.get(Column.TREATED).casefold()
    if not text:
        said.treated = options.treated
    elif text in YES or text in NO:
        said.treated = text in YES
    else:
        said.refuse(Column.TREATED, Kind.TREATED_NOT_READ, text=row.get(Column.TREATED))


def _from_rate(row: Row, said: Cells, days: Decimal) -> None:
    """A drop per day becomes mites only where it is a whole number of them."""
    text = row.get(Column.PER_DAY)
    rate = decimal_in(text)
    if rate is None:
        said.refuse(Column.PER_DAY, Kind.NOT_A_NUMBER, text=text)
    elif rate * days != (rate * days).to_integral_value():
        said.refuse(Column.PER_DAY, Kind.PER_DAY_NOT_WHOLE, text=text, days=str(days))
    elif rate * days > LARGEST:
        said.refuse(Column.PER_DAY, Kind.TOO_BIG, most=LARGEST)
    else:
        said.mites = int(rate * days)


def _part_of_board(row: Row, said: Cells) -> None:
    said.cells_counted = whole(row, Column.CELLS, said)
    said.cells_total = whole(row, Column.CELLS_TOTAL, said)
    if (said.cells_counted is None) != (said.cells_total is None):
        said.refuse(Column.CELLS, Kind.CELLS_PAIR)
    elif said.cells_counted is not None and not 1 <= said.cells_counted <= (said.cells_total or 0):
        said.refuse(Column.CELLS, Kind.CELLS_PART)


def whole(row: Row, column: Column, said: Cells) -> int | None:
    text = row.get(column)
    if not text:
        return None
    number = whole_in(text)
    if number is None:
        said.refuse(column, Kind.NOT_WHOLE, text=text)
    elif number > LARGEST:
        said.refuse(column, Kind.TOO_BIG, most=LARGEST)
        return None
    return number


def _decimal(row: Row, column: Column, said: Cells, *units: str, small: bool = False) -> Decimal | None:
    text = row.get(column)
    if not text:
        return None
    number = decimal_in(without_unit(text, *units), small=small)
    if number is None:
        said.refuse(column, Kind.NOT_A_NUMBER, text=text)
    elif number > LARGEST:
        said.refuse(column, Kind.TOO_BIG, most=LARGEST)
        return None
    return number
