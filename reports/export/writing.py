"""An export as a file: a zip of CSV files, one workbook, or JSON.

Each is written into a file of its own first and only then sent: an error on the way is an error page and never half a
file that looks whole. Memory does not grow with what is in it.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import zipfile
from collections.abc import Callable, Iterable, Iterator, Sequence
from decimal import Decimal
from enum import StrEnum
from typing import IO, Any

from django.db import connection, transaction
from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell

from apiaries.models import Person
from apiaries.sheet_out import guarded
from counts.constants import METHOD_VERSION
from reports.export.catalogue import ABOUT, FILE, TABLES, VERSION
from reports.export.cells import CellKind, Value, as_text
from reports.export.sheet_text import as_sheet_text
from reports.export.tables import Column, Scope

MOST_SHEET_ROWS = 1_048_575
"""Rows of one sheet beside its heading, by the specification of the workbook format (ECMA-376)."""
FIRST_SHEET_DAY = dt.date(1901, 1, 1)
"""Days before it are written as text: spreadsheet programs disagree about the year 1900."""
EPOCH = (1980, 1, 1, 0, 0, 0)
"""Of the files inside a zip, so that the same export makes the same bytes."""

Told = list[tuple[str, Value]]


class Form(StrEnum):
    """What an export may look like."""

    CSV = "csv"
    XLSX = "xlsx"
    JSON = "json"


ENDINGS = {Form.CSV: "zip", Form.XLSX: "xlsx", Form.JSON: "json"}
MEDIA_TYPES = {
    Form.CSV: "application/zip",
    Form.XLSX: "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    Form.JSON: "application/json",
}


class TooManyRows(ValueError):
    """A sheet of a workbook cannot hold them; CSV and JSON can."""


def write_export(person: Person, form: Form, file: IO[bytes], *, at: dt.datetime, mark: bool = True) -> None:
    """Everything the person may see, as it is at one moment. `mark`: CSV files begin with the mark of UTF-8.

    Errors: TooManyRows, for a workbook.
    """
    with transaction.atomic():
        _see_one_moment()
        scope = Scope(person)
        told = about(person, at=at)
        if form is Form.CSV:
            _write_csv(scope, told, file, encoding="utf-8-sig" if mark else "utf-8")
        elif form is Form.XLSX:
            _write_xlsx(scope, told, file, at=at)
        else:
            _write_json(scope, told, file)


def about(person: Person, *, at: dt.datetime) -> Told:
    """What the file says of itself: by this it is known when it comes back."""
    membership = person.membership
    return [
        ("file", FILE),
        ("version", VERSION),
        ("made_at", at.astimezone(dt.UTC).replace(microsecond=0)),
        ("made_for", Scope(person).own_words),
        ("club", membership.club.name if membership else ""),
        ("method_version", METHOD_VERSION),
    ]


def _see_one_moment() -> None:
    """All tables as they are now, whatever is written meanwhile; not inside a transaction that has begun before."""
    if len(connection.savepoint_ids) == 0:
        with connection.cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")


def _write_csv(scope: Scope, told: Told, file: IO[bytes], *, encoding: str) -> None:
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as packed:
        _csv_entry(packed, ABOUT, ["what", "value"], _about_lines(told), encoding)
        for table in TABLES:
            _csv_entry(
                packed, table.name, table.heading, csv_lines(table.columns, table.values(scope)), encoding
            )


def _csv_entry(
    packed: zipfile.ZipFile, name: str, heading: list[str], lines: Iterable[list[str]], encoding: str
) -> None:
    entry = zipfile.ZipInfo(f"{name}.csv", EPOCH)
    entry.compress_type = zipfile.ZIP_DEFLATED
    entry.external_attr = 0o644 << 16
    with (
        packed.open(entry, "w", force_zip64=True) as raw,
        io.TextIOWrapper(raw, encoding=encoding, newline="") as text,
    ):
        writer = csv.writer(text, lineterminator="\r\n")
        writer.writerow(heading)
        writer.writerows(lines)


def _about_lines(told: Told) -> Iterator[list[str]]:
    for what, value in told:
        yield [what, guarded(as_text(value))]


def csv_lines(columns: Sequence[Column], rows: Iterable[Sequence[Value]]) -> Iterator[list[str]]:
    """Cells as CSV has them: texts guarded, so that no spreadsheet runs one; numbers as they are."""
    is_text = [column.kind is CellKind.TEXT for column in columns]
    for row in rows:
        yield [
            guarded(as_text(value)) if typed else as_text(value)
            for typed, value in zip(is_text, row, strict=True)
        ]


def _write_xlsx(scope: Scope, told: Told, file: IO[bytes], *, at: dt.datetime) -> None:
    book = Workbook(write_only=True)
    book.properties.creator = FILE
    book.properties.created = book.properties.modified = at.astimezone(dt.UTC).replace(tzinfo=None)
    sheet = book.create_sheet(ABOUT)
    for line in [("what", "value"), *told]:
        sheet.append([sheet_cell(sheet, value) for value in line])
    for table in TABLES:
        sheet = book.create_sheet(table.name)
        sheet.freeze_panes = "A2"
        sheet.append([sheet_cell(sheet, name) for name in table.heading])
        for number, row in enumerate(table.values(scope), 1):
            if number > MOST_SHEET_ROWS:
                raise TooManyRows(table.name)
            sheet.append([sheet_cell(sheet, value) for value in row])
    book.save(file)


def sheet_cell(sheet: Any, value: Value) -> Any:
    """Numbers as numbers, days as days, all else as text that is never a formula."""
    if value is None or value == "":
        return None
    if isinstance(value, int | float | Decimal) and not isinstance(value, bool):
        return value
    if type(value) is dt.date and value >= FIRST_SHEET_DAY:
        return value
    text = as_text(value)
    cell = WriteOnlyCell(sheet, as_sheet_text(text))
    # The library takes a text with "=" before it for a formula; it stays what it is.
    cell.data_type = "s"
    if guarded(text) != text:
        cell.quotePrefix = True  # and stays so when somebody edits the cell
    return cell


def _write_json(scope: Scope, told: Told, file: IO[bytes]) -> None:
    """One object; the first line is the stamp, then a line for each row, so that the file can be read as text."""
    file.write(f'{{"{ABOUT}": {_dumped({what: _for_json(value) for what, value in told})}'.encode())
    for table in TABLES:
        file.write(f',\n"{table.name}": ['.encode())
        heading = table.heading
        for number, row in enumerate(table.values(scope)):
            told_row = dict(zip(heading, map(_for_json, row), strict=True))
            file.write(f"{',' if number else ''}\n{_dumped(told_row)}".encode())
        file.write(b"\n]")
    file.write(b"\n}\n")


_dumped: Callable[[Any], str] = json.JSONEncoder(ensure_ascii=False, allow_nan=False).encode


def _for_json(value: Value) -> str | int | float | bool | None:
    if isinstance(value, Decimal):
        # Up to ten digits, which a binary number gives back as they were.
        return int(value) if value == value.to_integral_value() else float(value)
    if value is None or isinstance(value, str | bool | int | float):
        return value
    return as_text(value)
