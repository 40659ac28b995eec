"""What the cells of one row of a sheet mean: days, methods, numbers. What has no single meaning is a problem."""

import datetime as dt
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from apiaries.models import Club
from apiaries.typed import NotRead, read_day
from counts.measuring import HALF_CUP
from counts.reference import measures
from counts.samples import JAR_KINDS, BeesBy, Kind, Method, kind_of
from counts.sheets import SheetRow

METHODS: Mapping[str, Method] = {
    "alcohol wash": Method.ALCOHOL_WASH,
    "alcohol": Method.ALCOHOL_WASH,
    "soap wash": Method.SOAP_WASH,
    "soap": Method.SOAP_WASH,
    "detergent": Method.SOAP_WASH,
    "sugar roll": Method.SUGAR_ROLL,
    "sugar": Method.SUGAR_ROLL,
    "sugar shake": Method.SUGAR_ROLL,
    "powdered sugar": Method.SUGAR_ROLL,
    "co2": Method.CO2,
    "board": Method.BOARD,
    "sticky board": Method.BOARD,
    "bottom board": Method.BOARD,
    "drop": Method.BOARD,
    "drone brood": Method.DRONE_BROOD,
    "drone": Method.DRONE_BROOD,
}
YES, NO = ("yes", "y", "true", "1", "x"), ("no", "n", "false", "0")
LARGEST = 99_999
_SPLIT = re.compile(r"(\d+)\s*(?:/|of|in)\s*(\d+)", re.IGNORECASE)
_MEASURES_OF_ML = "ml_100"


@dataclass(frozen=True, slots=True)
class Options:
    """What the sheet does not say, said by whoever imports it."""

    club: Club
    today: dt.date
    method: Method | None = None
    measure: int | None = None
    """Bees that every jar is taken as where the sheet names none."""


@dataclass(slots=True)
class Cells:
    """The meaning of a row; `problems` are pairs of column and sentence. No mites means not counted."""

    day: dt.date | None = None
    method: Method | None = None
    mites: int | None = None
    bees: int | None = None
    bees_by: BeesBy | None = None
    board_days: Decimal | None = None
    cells_counted: int | None = None
    cells_total: int | None = None
    treated: bool | None = None
    note: str = ""
    problems: list[tuple[str, str]] = field(default_factory=list)

    def wrong(self, column: str, words: str) -> None:
        self.problems.append((column, words))


def bees_of_measure(key: str, club: Club) -> int:
    """Bees of a measure by its key; `half_cup` is the club's own number. KeyError for another key."""
    return {HALF_CUP: club.bees_per_half_cup, **{one["key"]: one["bees"] for one in measures()}}[key]


def measure_keys() -> list[str]:
    """The keys that `bees_of_measure` knows."""
    return [HALF_CUP, *(one["key"] for one in measures())]


def cells_of(row: SheetRow, options: Options) -> Cells:
    """What the row says."""
    said = Cells(note=row.get("note")[:500])
    said.day = _day(row, said, options.today)
    said.method = _method(row, said, options)
    said.mites, in_cell = _mites(row, said)
    if said.mites is None:
        return said  # not counted: nothing else is asked of the row
    kind = kind_of(said.method) if said.method else None
    if kind in JAR_KINDS:
        _jar(row, said, options, in_cell)
    elif in_cell is not None and kind is Kind.BOARD:
        said.wrong("mites", f"“{row.get('mites')}” names bees, but a board has none. Enter the mites alone.")
    if kind is Kind.BOARD:
        _board(row, said)
    if kind is Kind.DRONE_BROOD:
        said.cells_counted = _whole(row, "cells", said)
        said.cells_counted = in_cell if said.cells_counted is None else said.cells_counted
        if not said.cells_counted:
            said.wrong("cells", "Enter how many drone cells were opened.")
    return said


def _day(row: SheetRow, said: Cells, today: dt.date) -> dt.date | None:
    text = row.get("date")
    if not text:
        said.wrong("date", "The date is missing.")
        return None
    # Sheets write midnight behind a day.
    text = re.sub(r"[T ]00:00(:00(\.0+)?)?$", "", text)
    try:
        day = read_day(text)
    except NotRead as error:
        said.wrong("date", f"“{text}”: {error}")
        return None
    if day > today:
        said.wrong("date", "The date of the count can't be in the future.")
    if day.year < 1900:
        said.wrong("date", f"“{text}” is too long ago. Enter a year after 1900.")
    return day


def _method(row: SheetRow, said: Cells, options: Options) -> Method | None:
    text = row.get("method").lower().replace("_", " ").strip()
    if not text:
        if options.method is None:
            said.wrong("method", "The method is missing. Fill it in, or name one for the whole sheet.")
        return options.method
    method = METHODS.get(text)
    if method is None:
        said.wrong("method", f"“{row.get('method')}” is no method known here, such as alcohol wash or board.")
    return method


def _mites(row: SheetRow, said: Cells) -> tuple[int | None, int | None]:
    """Mites and, where the cell reads 7/300, the bees (or opened cells) in it."""
    if found := _SPLIT.fullmatch(row.get("mites")):
        mites, of = int(found[1]), int(found[2])
        if max(mites, of) > LARGEST:
            said.wrong("mites", f"Enter numbers up to {LARGEST:,}.")
            return None, None
        return mites, of
    return _whole(row, "mites", said), None


def _jar(row: SheetRow, said: Cells, options: Options, in_cell: int | None) -> None:
    bees, millilitres = _whole(row, "bees", said), _decimal(row, "volume", said)
    if None not in (bees, in_cell) and bees != in_cell:
        said.wrong("bees", f"{bees} bees here, but {in_cell} beside the mites. Which is right?")
    said.bees = in_cell if bees is None else bees
    # A sheet does not say whether somebody counted every bee, so the wider range is the honest one.
    said.bees_by = BeesBy.NOMINAL
    if said.bees is None and millilitres is not None:
        said.bees, said.bees_by = _bees_of(millilitres), BeesBy.VOLUME
    if said.bees is None and options.measure is not None:
        said.bees, said.bees_by = options.measure, BeesBy.VOLUME
    if any(column in ("bees", "volume") for column, _ in said.problems):
        return
    if said.bees is None:
        said.wrong(
            "bees", "The number of bees is missing. Fill it in, or name a measure for the whole sheet."
        )
    elif said.bees < 1:
        said.wrong("bees", "Enter the number of bees in the jar. It must be at least 1.")


def _bees_of(millilitres: Decimal) -> int:
    per_100 = next(one["bees"] for one in measures() if one["key"] == _MEASURES_OF_ML)
    return int((millilitres * per_100 / 100).to_integral_value())


def _board(row: SheetRow, said: Cells) -> None:
    said.board_days = _decimal(row, "days", said)
    if said.board_days is None and not any(column == "days" for column, _ in said.problems):
        said.wrong("days", "Enter how many days the board was in the hive. It must be more than 0.")
    elif said.board_days is not None and not 0 < said.board_days < 100:
        said.wrong("days", "The days of a board must be more than 0 and less than 100.")
    elif said.board_days is not None and said.board_days != round(said.board_days, 1):
        said.wrong("days", "Enter the days with at most one decimal, such as 3 or 2.5.")
    said.cells_counted, said.cells_total = _whole(row, "cells", said), _whole(row, "cells_total", said)
    if (said.cells_counted is None) != (said.cells_total is None):
        said.wrong("cells", "Enter both the cells counted and all cells of the board, or neither.")
    elif said.cells_counted is not None and not 1 <= said.cells_counted <= (said.cells_total or 0):
        said.wrong("cells", "The cells counted must be at least 1 and at most the cells on the board.")
    text = row.get("treated").lower()
    if text in YES or text in NO:
        said.treated = text in YES
    elif text:
        said.wrong("treated", f"“{row.get('treated')}” is neither yes nor no.")


def _whole(row: SheetRow, column: str, said: Cells) -> int | None:
    text = row.get(column)
    if not text:
        return None
    plain = re.sub(r"[.,]0+$", "", text)
    if not (plain.isascii() and plain.isdigit()):
        said.wrong(column, f"“{text}” is not a whole number.")
        return None
    if len(plain) > len(str(LARGEST)):
        said.wrong(column, f"Enter a number up to {LARGEST:,}.")
        return None
    return int(plain)


def _decimal(row: SheetRow, column: str, said: Cells) -> Decimal | None:
    text = row.get(column).replace(",", ".")
    if not text:
        return None
    if not re.fullmatch(r"\d{1,5}(\.\d{1,4})?", text):
        said.wrong(column, f"“{row.get(column)}” is not a number.")
        return None
    return Decimal(text)
