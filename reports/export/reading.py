"""An export that comes back: recognised, and its cells read. Nothing is looked up or written here."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import PurePosixPath
from typing import Any

from apiaries.bringing_back import FileRow
from apiaries.language import say
from apiaries.sheet_out import unguarded
from counts.tables import CannotRead
from counts.tables.limits import MOST_COLUMNS
from reports.export.bounded import MB, MOST_BYTES, MOST_JSON_BYTES, SPARE, TooMuch, csv_rows, refuse_json
from reports.export.catalogue import ABOUT, BACK, FILE, VERSION
from reports.export.cells import NO, YES, CellKind, NotACell, Value, read_cell
from reports.export.tables import Column, Table
from reports.export.workbook import workbook_tables
from reports.export.writing import Form

MOST_ENTRIES = 100
MOST_UNPACKED = 120 * MB
MOST_RATIO = 200
"""Text packs 5 to 20 times; deflate can do 1,000 times."""
MOST_ROWS = 200_000
MOST_ABOUT = 100
MOST_REGIONS = 100
"""Each one that the club does not have is a question on the page (our choice)."""
MOST_TROUBLES = 50
"""So many are listed; whoever has more mends these first."""
LONGEST_CELL = 5_000
FIRST_DAY, LAST_DAY = dt.date(1900, 1, 1), dt.date(2099, 12, 31)
"""The days that can be entered on a page: nothing that an export holds lies outside them."""

Lines = Iterator[tuple[int, Mapping[str, str]]]


class NotAnExport(ValueError):
    """The file is none, or cannot be read; the message says what to do."""


@dataclass(frozen=True)
class Trouble:
    """What is wrong, and where."""

    table: str
    row: int
    column: str
    words: str


@dataclass
class Package:
    """What came back: the rows of the tables that can be brought in, and what could not be read of them."""

    form: Form
    made_for: str = ""
    made_at: str = ""
    club: str = ""
    method_version: str = ""
    rows: dict[str, list[FileRow]] = field(default_factory=dict)
    troubles: list[Trouble] = field(default_factory=list)

    def __getitem__(self, table: str) -> list[FileRow]:
        return self.rows[table]


def read_export(data: bytes) -> Package:
    """Recognise an export in any of its three forms and read it. Errors: NotAnExport."""
    refuse_size(data, MOST_BYTES)
    form = form_of(data)
    try:
        told, tables = _opened(data, form)
        package = _stamped(told, form)
        for table in BACK.values():
            if table.name not in tables:
                raise NotAnExport(say("The table “{table}” is missing in this file.", table=table.name))
            package.rows[table.name] = list(_rows(table, tables[table.name], package))
            if sum(map(len, package.rows.values())) > MOST_ROWS:
                raise NotAnExport(_too_many_rows())
        if len({row["region"] for row in package["yards"] if row["yours"]}) > MOST_REGIONS:
            raise NotAnExport(say("The file names more than {most} regions.", most=MOST_REGIONS))
    except CannotRead as error:
        raise NotAnExport(error.sentence) from error
    except TooMuch as error:
        raise NotAnExport(_unfolds()) from error
    except (csv.Error, UnicodeDecodeError, zipfile.BadZipFile, zlib.error) as error:
        raise NotAnExport(_damaged()) from error
    except (EOFError, NotImplementedError, RuntimeError) as error:  # cut off, packed in another way, locked
        raise NotAnExport(_damaged()) from error
    return package


def refuse_size(data: bytes, most: int) -> None:
    """Errors: NotAnExport."""
    if len(data) > most:
        raise NotAnExport(say("The file is larger than {most} MB.", most=most // MB))


def form_of(data: bytes) -> Form:
    """Which of the three it is, by its first bytes and, of a zip, by what is in it. Errors: NotAnExport."""
    if data.lstrip(b"\xef\xbb\xbf \t\r\n")[:1] == b"{":
        return Form.JSON
    if not data.startswith(b"PK"):
        raise NotAnExport(_no_export())
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            _refuse_bomb(packed)
            names = packed.namelist()
    except (zipfile.BadZipFile, NotImplementedError, ValueError) as error:
        if isinstance(error, NotAnExport):
            raise
        raise NotAnExport(_damaged()) from error
    return Form.XLSX if "[Content_Types].xml" in names else Form.CSV


def _no_export() -> str:
    return say(
        "This is no export of Recount. Choose the zip, the workbook or the JSON file of “Take everything with you”."
    )


def _damaged() -> str:
    return say("The file is damaged or not complete. Choose the file as it was downloaded.")


def _refuse_bomb(packed: zipfile.ZipFile) -> None:
    entries = packed.infolist()
    unpacked = sum(entry.file_size for entry in entries)
    packed_size = max(sum(entry.compress_size for entry in entries), 1)
    if len(entries) > MOST_ENTRIES or unpacked > MOST_UNPACKED or unpacked > MOST_RATIO * packed_size:
        raise NotAnExport(_unfolds())


def _unfolds() -> str:
    return say("The file would unfold to far more than an export holds, so it is not read.")


def _too_many_rows() -> str:
    return say("The file has more than {most} rows.", most=MOST_ROWS)


def _opened(data: bytes, form: Form) -> tuple[Mapping[str, str], Mapping[str, Lines]]:
    if form is Form.JSON:
        return _opened_json(data)
    tables = _csv_tables(data) if form is Form.CSV else workbook_tables(data)
    if ABOUT not in tables:
        raise NotAnExport(_no_export())
    told = {}
    for at, (_, line) in enumerate(tables[ABOUT]):
        if at >= MOST_ABOUT:
            raise NotAnExport(_unfolds())
        told[line.get("what", "")] = line.get("value", "")
    return told, {name: lines for name, lines in tables.items() if name != ABOUT}


def _csv_tables(data: bytes) -> dict[str, Lines]:
    packed = zipfile.ZipFile(io.BytesIO(data))
    tables: dict[str, Lines] = {}
    for entry in packed.infolist():
        path = PurePosixPath(entry.filename)
        if path.suffix == ".csv" and not path.name.startswith("."):
            if path.stem in tables:
                raise NotAnExport(say("The table “{table}” is in this file twice.", table=path.stem))
            tables[path.stem] = _csv_lines(packed, entry)
    return tables


def _csv_lines(packed: zipfile.ZipFile, entry: zipfile.ZipInfo) -> Lines:
    with packed.open(entry) as raw:
        reader = csv_rows(io.TextIOWrapper(raw, encoding="utf-8-sig", newline=""))
        heading = next(reader, [])
        if len(heading) > MOST_COLUMNS:
            raise TooMuch
        for number, cells in enumerate(reader, 2):
            if number > MOST_ROWS + SPARE:
                raise NotAnExport(_too_many_rows())
            if cells:
                # A text is guarded, nothing else begins with an apostrophe: so each may lose its own.
                yield number, {name: unguarded(cell) for name, cell in zip(heading, cells, strict=False)}


def _opened_json(data: bytes) -> tuple[Mapping[str, str], Mapping[str, Lines]]:
    refuse_size(data, MOST_JSON_BYTES)
    refuse_json(data, MOST_ROWS)
    # A number with a point stays the text it is: its cell says whether it is one, and where it stands if not.
    try:
        told = json.loads(data.decode("utf-8-sig"), parse_float=str)
    except (ValueError, RecursionError) as error:
        raise NotAnExport(_damaged()) from error
    stamp = told.pop(ABOUT, None)
    if not isinstance(stamp, dict):
        raise NotAnExport(_no_export())
    if len(stamp) > MOST_ABOUT:
        raise NotAnExport(_unfolds())
    if sum(len(rows) for name, rows in told.items() if name in BACK and isinstance(rows, list)) > MOST_ROWS:
        raise NotAnExport(_too_many_rows())
    tables = {name: _json_lines(rows) for name, rows in told.items() if isinstance(rows, list)}
    return {name: _json_text(value) for name, value in stamp.items()}, tables


def _json_lines(rows: list[Any]) -> Lines:
    for number, row in enumerate(rows, 1):
        if not isinstance(row, dict):
            raise NotAnExport(_damaged())
        if len(row) > MOST_COLUMNS:
            raise TooMuch
        yield number, {name: _json_text(value) for name, value in row.items()}


def _json_text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return YES if value else NO
    if isinstance(value, str | int):
        return str(value)
    raise NotAnExport(_damaged())


def _stamped(told: Mapping[str, str], form: Form) -> Package:
    if told.get("file") != FILE:
        raise NotAnExport(_no_export())
    version = told.get("version", "")
    if not (version.isascii() and version.isdigit() and len(version) < 6 and 1 <= int(version) <= VERSION):
        raise NotAnExport(say("A newer Recount wrote this file. It can be brought in where that one runs."))
    return Package(
        form,
        made_for=told.get("made_for", "")[:200],
        made_at=told.get("made_at", "")[:200],
        club=told.get("club", "")[:200],
        method_version=told.get("method_version", "")[:200],
    )


def _rows(table: Table, lines: Lines, package: Package) -> Iterator[FileRow]:
    wanted = [column for column in table.columns if column.comes_back]
    for at, (number, line) in enumerate(lines):
        if at == 0 and (missing := [one.name for one in wanted if one.name not in line]):
            raise NotAnExport(
                say("The table “{table}” has no column “{column}”.", table=table.name, column=missing[0])
            )
        if at > MOST_ROWS:
            raise NotAnExport(_too_many_rows())
        cells = {column.name: _cell(table, number, column, line, package) for column in wanted}
        yield FileRow(table.name, number, cells)


def _cell(table: Table, number: int, column: Column, line: Mapping[str, str], package: Package) -> Value:
    told = line.get(column.name, "")
    try:
        if len(told) > LONGEST_CELL:
            raise NotACell(column.kind, told)
        value = read_cell(column.kind, told, places=column.places)
    except NotACell as error:
        value, words = None, str(error)
    else:
        words = _out_of_time(value)
    if not words:
        return value
    if len(package.troubles) < MOST_TROUBLES:
        package.troubles.append(Trouble(table.name, number, column.name, words))
    return "" if column.kind is CellKind.TEXT else None


def _out_of_time(value: Value) -> str:
    """What is wrong with a day or an instant that no export can have; empty if nothing is.

    Sums of days must not run over the end of the calendar. Instants that are still to come are refused elsewhere.
    """
    if not isinstance(value, dt.date):
        return ""
    day = value.date() if isinstance(value, dt.datetime) else value
    return "" if FIRST_DAY <= day <= LAST_DAY else say("Enter a year from 1900 to 2099.")
