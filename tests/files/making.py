"""Makes odd and hostile files, so that no large or dangerous one lies in the repository. All counts are invented."""

import datetime as dt
import io
import zipfile
from collections.abc import Iterable, Sequence
from typing import Any

import openpyxl

HEADINGS = ("Yard", "Hive", "Date", "Method", "Mites", "Bees")
KNOWN = ("yard", "hive", "date", "method", "mites", "bees")
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
SHEET_PART = "xl/worksheets/sheet1.xml"


def csv_text(*rows: Sequence[object], delimiter: str = ",", headings: Sequence[str] = HEADINGS) -> str:
    """Rows below the headings, unquoted."""
    return "".join(delimiter.join(str(cell) for cell in row) + "\n" for row in (headings, *rows))


def book(*rows: Sequence[Any], headings: Sequence[str] = HEADINGS) -> openpyxl.Workbook:
    """A workbook of one sheet, called Counts."""
    made = openpyxl.Workbook()
    made.active.title = "Counts"
    for row in (headings, *rows):
        made.active.append(list(row))
    return made


def packed(made: openpyxl.Workbook) -> bytes:
    file = io.BytesIO()
    made.save(file)
    return file.getvalue()


def with_parts(data: bytes, parts: dict[str, bytes | Iterable[bytes]]) -> bytes:
    """The workbook with some of its parts replaced or added; a part may come in pieces."""
    file = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            if name not in parts:
                new.writestr(name, old.read(name))
        for name, content in parts.items():
            with new.open(name, "w", force_zip64=True) as part:
                for piece in [content] if isinstance(content, bytes) else content:
                    part.write(piece)
    return file.getvalue()


def sheet_xml(cells: Iterable[bytes], *, before: bytes = b"", dimension: bytes = b"A1:F9") -> Iterable[bytes]:
    """A sheet's part around rows in XML; `before` stands where declarations would."""
    yield b'<?xml version="1.0"?>' + before + b'<worksheet xmlns="' + MAIN.encode() + b'">'
    yield b'<dimension ref="' + dimension + b'"/><sheetData>'
    yield from cells
    yield b"</sheetData></worksheet>"


def with_sheet(cells: Iterable[bytes], **more: bytes) -> bytes:
    """A workbook whose only sheet holds these rows in XML."""
    return with_parts(packed(book()), {SHEET_PART: sheet_xml(cells, **more)})


def heading_xml() -> bytes:
    return (
        b'<row r="1">'
        + b"".join(text_cell(f"{'ABCDEF'[at]}1", one) for at, one in enumerate(HEADINGS))
        + b"</row>"
    )


def text_cell(place: str, text: str) -> bytes:
    return f'<c r="{place}" t="inlineStr"><is><t>{text}</t></is></c>'.encode()


def many_cells(rows: int, columns: int) -> Iterable[bytes]:
    """Rows of cells that hold 1, which pack very well."""
    yield heading_xml()
    row = b"<row>" + b"<c><v>1</v></c>" * columns + b"</row>"
    for _ in range(rows):
        yield row


def compound(*streams: str) -> bytes:
    """The start of a compound file, with names of streams as its directory holds them. Not a whole one."""
    names = b"".join(name.encode("utf-16-le").ljust(128, b"\0") for name in streams)
    return b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(504) + names


def club_years(rows: int) -> Iterable[tuple[Any, ...]]:
    """Counts of an invented club over many years, twelve cells each."""
    for n in range(rows):
        yield (
            *(f"Yard {n % 300}", n % 40 + 1, dt.date(1995, 4, 1) + dt.timedelta(n // 10), "alcohol wash"),
            *(n * 7 % 40, 300, None, "some", "off", ("sun", "rain")[n % 2], f"member {n % 50}", f"note {n}"),
        )


YEARS = (*HEADINGS, "Days", "Brood", "Supers", "Weather", "Keeper", "Note")


def years_csv(rows: int) -> bytes:
    return csv_text(*club_years(rows), headings=YEARS).encode()


def years_xlsx(rows: int) -> bytes:
    made = openpyxl.Workbook(write_only=True)
    sheet = made.create_sheet("All years")
    sheet.append(YEARS)
    for row in club_years(rows):
        sheet.append(row)
    return packed(made)
