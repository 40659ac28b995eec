"""Files that are damaged, of another kind, or made to harm: each is refused in words, and none takes much memory."""

import io
import re
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from counts.tables import CannotRead, Why, read_table
from counts.tables.limits import MB, MOST_CSV_BYTES, MOST_ROWS, MOST_XLSX_BYTES
from tests.files.conftest import Read, Refuse
from tests.files.making import (
    HEADINGS,
    SHEET_PART,
    a_long_cell,
    book,
    compound,
    csv_text,
    deep,
    heading_xml,
    many_cells,
    many_fonts,
    many_texts,
    one_text,
    packed,
    part_of,
    text_cell,
    with_parts,
    with_sheet,
    with_texts,
)

MOST_USED = 400 * MB
OPEN_DOCUMENT = b"application/vnd.oasis.opendocument.spreadsheet"
PNG = b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR" + bytes(range(256)) * 9
LAUGHS = (
    b'<!DOCTYPE l [<!ENTITY a "'
    + b"ha" * 500
    + b'">'
    + b"".join(
        f'<!ENTITY {name} "{f"&{before};" * 20}">'.encode()
        for before, name in zip("abcdef", "bcdefg", strict=True)
    )
    + b"]>"
)
OUTSIDE = b'<!DOCTYPE l [<!ENTITY a SYSTEM "file:///etc/hostname">]>'


def zip_of(**parts: bytes) -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return file.getvalue()


def locked(data: bytes) -> bytes:
    """Every entry of the archive said to be encrypted, in its directory: a bit of the flags, 8 bytes on."""
    return re.sub(rb"(PK\x01\x02.{4})\0", lambda found: found[1] + b"\1", data, flags=re.DOTALL)


def pieces(total: int) -> Iterator[bytes]:
    """So many bytes of a text that packs well."""
    for _ in range(total // MB):
        yield b"A" * MB


def a_cell_of(size: int) -> Iterator[bytes]:
    yield b'<row r="1"><c r="A1" t="inlineStr"><is><t>'
    yield from pieces(size)
    yield b"</t></is></c></row>"


REFUSED = {
    "nothing": (b"", Why.EMPTY),
    "blanks": (b"\xef\xbb\xbf \r\n\t\n", Why.EMPTY),
    "a mark alone": (b"\xff\xfe", Why.EMPTY),
    "picture called CSV": (PNG, Why.NOT_A_SHEET),
    "PDF": (b"%PDF-1.7\n1 0 obj\n", Why.NOT_A_SHEET),
    "NUL among text": (csv_text(("Home", "\0", "x")).encode(), Why.NOT_A_SHEET),
    "NUL far down": (csv_text(*[("Home", 1)] * 5000, ("\0", 2)).encode(), Why.NOT_A_SHEET),
    "signs of control": (b"a,b\n" + bytes(range(1, 32)) * 20, Why.NOT_A_SHEET),
    "page called XLS": (b"<html><table><tr><td>Hive</td></tr></table></html>", Why.OTHER_WORKBOOK),
    "old workbook": (compound("Root Entry", "Workbook"), Why.OLD_WORKBOOK),
    "locked workbook": (compound("Root Entry", "EncryptionInfo", "EncryptedPackage"), Why.PASSWORD),
    "locked archive": (locked(packed(book())), Why.PASSWORD),
    "archive of something else": (zip_of(**{"readme.txt": b"hello"}), Why.OTHER_WORKBOOK),
    "workbook of another kind": (zip_of(mimetype=OPEN_DOCUMENT), Why.OTHER_WORKBOOK),
    "half a workbook": (packed(book())[:2000], Why.DAMAGED),
    "workbook with a hole": (packed(book()).replace(b"worksheet", b"wOrkshoot"), Why.DAMAGED),
    "part that is no XML": (with_parts(packed(book()), {SHEET_PART: b"<worksheet"}), Why.DAMAGED),
    "row 0": (with_sheet([b'<row r="0"><c><v>1</v></c></row>']), Why.DAMAGED),
    "row beyond all": (
        with_sheet([heading_xml(), b'<row r="9999999999"><c><v>1</v></c></row>']),
        Why.DAMAGED,
    ),
    "too many parts": (with_parts(packed(book()), {f"x{n}.bin": b"" for n in range(100)}), Why.PARTS),
    "far cell": (
        with_sheet([heading_xml(), b"<row>" + text_cell("XFD1048576", "x") + b"</row>"]),
        Why.COLUMNS,
    ),
    "101 columns": (csv_text([1] * 101).encode(), Why.COLUMNS),
    "long cell": (csv_text(("Home", "x" * 2001)).encode(), Why.CELL),
    "long cell of a workbook": (packed(book(("Home", "x" * 2001))), Why.CELL),
    "line of 10 MB": (b"x" * 10 * MB, Why.LINE),
    "line of 5 million cells": (b"a," * 5_000_000, Why.LINE),
    "open quotation mark": (csv_text(("Home", '"early'), *[("Home", 1)] * 9).encode(), Why.QUOTE),
    "open quotation mark and much behind": (
        csv_text(("Home", '"early'), *[("Home", 1)] * 9999).encode(),
        Why.LINE,
    ),
    "one row too many": (csv_text(*[("Home", 1)] * (MOST_ROWS + 1)).encode(), Why.ROWS),
    "one row too many in a workbook": (None, Why.ROWS),
    "CSV of 21 MB": (csv_text(("Home", 1)).encode() + b"\n" * MOST_CSV_BYTES, Why.TOO_BIG),
    "workbook of 11 MB": (packed(book()) + bytes(MOST_XLSX_BYTES), Why.TOO_BIG),
    "entities that unfold": (None, Why.ENTITIES),
    "entity from outside": (None, Why.ENTITIES),
    "entities among the texts": (None, Why.ENTITIES),
    "cell of 300 MB": (None, Why.UNFOLDS),
    "zip bomb beside the sheet": (None, Why.UNFOLDS),
    "5 million cells": (None, Why.UNFOLDS),
    "5 million cells in rows that fit": (None, Why.ROWS),
}


def made(which: str) -> bytes:
    """The larger ones, which are made only when they are wanted."""
    data = REFUSED[which][0]
    if data is not None:
        return data
    empty = packed(book())
    return {
        "one row too many in a workbook": lambda: with_sheet(many_cells(MOST_ROWS + 1, 1, noise=20)),
        "entities that unfold": lambda: with_sheet([b'<row r="1"><c><v>&g;</v></c></row>'], before=LAUGHS),
        "entity from outside": lambda: with_sheet([b'<row r="1"><c><v>&a;</v></c></row>'], before=OUTSIDE),
        "entities among the texts": lambda: with_parts(empty, {"xl/styles.xml": LAUGHS + b"<a>&g;</a>"}),
        "cell of 300 MB": lambda: with_sheet(a_cell_of(300 * MB)),
        "zip bomb beside the sheet": lambda: with_parts(empty, {"xl/media/image1.png": pieces(200 * MB)}),
        "5 million cells": lambda: with_sheet(many_cells(50_000, 100)),
        "5 million cells in rows that fit": lambda: with_sheet(many_cells(830_000, 6, noise=2)),
    }[which]()


# Within every limit of archives, so that only the limits of the process stand in the way.
SLIPS_THROUGH = {
    "one cell of 110 MB": (lambda: with_sheet(a_long_cell(110 * MB)), Why.CELL),
    "a million cells in a row": (lambda: with_sheet(many_cells(1, 1_000_000, noise=900_000)), Why.MEMORY),
    "4 million texts": (lambda: with_texts(many_texts(4_000_000)), Why.MEMORY),
    "a million styles": (
        lambda: with_parts(packed(book()), {"xl/styles.xml": many_fonts(1_000)}),
        Why.MEMORY,
    ),
    "a million elements within each other": (lambda: with_sheet(deep(1_000)), Why.NO_HEADING),
    "a long text in every cell": (
        lambda: with_texts([*one_text(1_900)], rows=1_000, columns=100),
        Why.UNFOLDS,
    ),
}


@pytest.mark.slow
@pytest.mark.parametrize("which", SLIPS_THROUGH)
def test_process_bounds_itself_where_the_archive_looks_harmless(refused: Refuse, which: str) -> None:
    make, why = SLIPS_THROUGH[which]

    wrong = refused(make())

    assert wrong.code == why
    assert wrong.peak_bytes is not None
    assert wrong.peak_bytes < MOST_USED


@pytest.mark.parametrize("which", REFUSED)
def test_file_is_refused_in_words(refused: Refuse, which: str) -> None:
    wrong = refused(made(which))

    assert wrong.code == REFUSED[which][1]
    assert wrong.sentence.endswith((".", "!"))
    assert "{" not in wrong.sentence
    if wrong.code != Why.TOO_BIG:
        assert wrong.peak_bytes is not None
        assert MB < wrong.peak_bytes < MOST_USED


def test_refusal_says_where_and_how_much(refused: Refuse) -> None:
    assert refused(csv_text(("Home", 1), ("Home", "x" * 2001)).encode()).sentence == (
        "Row 3, column B: the cell holds more than 2,000 characters. Shorten it."
    )
    assert refused(csv_text(("Home", 1), [1] * 101).encode()).sentence.startswith(
        "Row 3 reaches beyond column 100."
    )
    assert refused(made("CSV of 21 MB")).sentence.startswith("The file has 21 MB; at most 20 MB are read.")


def test_far_cell_that_is_empty_is_no_matter(read: Read) -> None:
    rows_xml = [heading_xml(), b'<row r="3"><c r="B3"><v>1</v></c></row>']
    far = b'<row r="1048576"><c r="XFD1048576" s="0"/></row>'

    table, rows = read(with_sheet([*rows_xml, far], dimension=b"A1:XFD1048576"))

    assert (table.headings, [row.n for row in rows]) == (HEADINGS, [3])


def test_signs_that_no_page_can_show_become_blanks(read: Read) -> None:
    _, rows = read(csv_text(("Ho\x0bme", "a\x07b", *["x" * 99] * 4)).encode())
    assert rows[0].cells[:2] == ("Ho me", "a b")

    _, rows = read(packed(book(("a_x0000_b", "x_x000D_\ny", "_x0041_"))))
    assert rows[0].cells[:3] == ("a b", "x\ny", "A")


def test_what_the_library_prints_does_not_mix_with_the_answer(refused: Refuse) -> None:
    data = packed(book(("Home", 1)))
    styles = part_of(data, "xl/styles.xml")
    wrong = re.sub(
        rb"<cellXfs.*</cellXfs>", b'<cellXfs><xf numFmtId="0" fontId="0" xfId="0"/></cellXfs>', styles
    )
    wrong = re.sub(rb"<cellStyleXfs.*</cellStyleXfs>", b"<cellStyleXfs></cellStyleXfs>", wrong)

    assert wrong != styles
    assert refused(with_parts(data, {"xl/styles.xml": wrong})).code == Why.DAMAGED


def test_missing_file_is_a_mistake_of_the_caller(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        read_table(tmp_path / "nothing", name="nothing.csv")


@pytest.mark.parametrize("which", ["101 columns", "half a workbook"])
def test_refusal_can_be_stored_and_said_again(refused: Refuse, which: str) -> None:
    wrong = refused(made(which))

    again = CannotRead.because(Why(wrong.code), wrong.values)

    assert (again.sentence, str(again)) == (wrong.sentence, wrong.sentence)
