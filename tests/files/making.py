"""Makes odd and hostile files, so that no large or dangerous one lies in the repository. All counts are invented."""

import datetime as dt
import io
import itertools
import random
import zipfile
from collections.abc import Iterable, Sequence
from typing import Any

import openpyxl
from openpyxl.utils.datetime import to_excel

HEADINGS = ("Yard", "Hive", "Date", "Method", "Mites", "Bees")
KNOWN = ("yard", "hive", "date", "method", "mites", "bees")
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
SHARED_TYPE = (
    b'<Override PartName="/xl/sharedStrings.xml" ContentType="application/vnd.openxmlformats-officedocument.'
    b'spreadsheetml.sharedStrings+xml"/>'
)
SHEET_PART = "xl/worksheets/sheet1.xml"


def csv_text(*rows: Sequence[object], delimiter: str = ",", headings: Sequence[str] = HEADINGS) -> str:
    """Rows below the headings, unquoted."""
    return "".join(
        delimiter.join("" if cell is None else str(cell) for cell in row) + "\n" for row in (headings, *rows)
    )


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


def many_cells(rows: int, columns: int, *, noise: int = 0) -> Iterable[bytes]:
    """Rows of equal cells, which pack very well; so many bytes of noise in a row keep them from it."""
    chance = random.Random(1)
    yield heading_xml()
    for _ in range(rows):
        yield b"<row>" + b"<c><v>1</v></c>" * columns + noise_xml(chance, noise) + b"</row>"


def noise_xml(chance: random.Random, size: int) -> bytes:
    """A comment that does not pack."""
    return b"<!--" + chance.randbytes(size // 2).hex().encode() + b"-->" if size else b""


def a_long_cell(size: int) -> Iterable[bytes]:
    """A single cell that packs to a hundredth and not less."""
    chance = random.Random(1)
    yield heading_xml() + b'<row><c t="inlineStr"><is><t>'
    for _ in range(size // 100_000):
        yield b"A" * 99_000 + chance.randbytes(500).hex().encode()
    yield b"</t></is></c></row>"


def deep(thousands: int) -> Iterable[bytes]:
    """Elements within each other."""
    chance = random.Random(2)
    for _ in range(thousands):
        yield b"<a>" * 1_000 + noise_xml(chance, 80)
    yield b"</a>" * 1_000 * thousands


def many_fonts(thousands: int) -> Iterable[bytes]:
    """Styles that nobody needs."""
    chance = random.Random(3)
    yield b'<styleSheet xmlns="' + MAIN.encode() + b'"><fonts>'
    for _ in range(thousands):
        yield b'<font><sz val="11"/></font>' * 1_000 + noise_xml(chance, 300)
    yield b"</fonts></styleSheet>"


def many_texts(number: int) -> Iterable[bytes]:
    """Different texts for cells to point to."""
    for n in range(0, number, 1_000):
        yield b"".join(b"<si><t>%x</t></si>" % (n + at) for at in range(1_000))


def one_text(length: int) -> Iterable[bytes]:
    """The same text for all cells."""
    yield b"<si><t>" + b"y" * length + b"</t></si>"


def with_texts(texts: Iterable[bytes], *, rows: int = 1, columns: int = 6) -> bytes:
    """A workbook of shared texts, whose cells all point to the first one."""
    row = b"<row>" + b'<c t="s"><v>0</v></c>' * columns + b"</row>"
    cells = [heading_xml(), *(row + noise_xml(random.Random(n), 40) for n in range(rows))]
    plain = packed(book())
    listed = part_of(plain, "[Content_Types].xml").replace(b"</Types>", SHARED_TYPE + b"</Types>")
    strings = itertools.chain([b'<sst xmlns="' + MAIN.encode() + b'">'], texts, [b"</sst>"])
    parts = {SHEET_PART: sheet_xml(cells), "xl/sharedStrings.xml": strings, "[Content_Types].xml": listed}
    return with_parts(plain, parts)


def part_of(data: bytes, name: str) -> bytes:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return archive.read(name)


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
    """The same as a workbook; written as XML by hand, for openpyxl takes ten times as long."""
    with_a_date = packed(book((None, None, dt.date(2026, 8, 12))))  # its second style shows numbers as dates
    lines = itertools.chain([YEARS], club_years(rows))
    xml = (b"<row>" + b"".join(cell_xml(cell) for cell in line) + b"</row>" for line in lines)
    return with_parts(with_a_date, {SHEET_PART: sheet_xml(xml)})


def cell_xml(value: Any) -> bytes:
    if value is None:
        return b"<c/>"
    if isinstance(value, dt.date):
        return f'<c s="1"><v>{to_excel(value)}</v></c>'.encode()
    if isinstance(value, int):
        return f"<c><v>{value}</v></c>".encode()
    return f'<c t="inlineStr"><is><t>{value}</t></is></c>'.encode()
