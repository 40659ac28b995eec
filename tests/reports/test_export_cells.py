"""Cells of an export: what is written is what is read, whatever stands in it, and what is no value is refused."""

import datetime as dt
import io
import uuid
import zipfile
from decimal import Decimal
from typing import Any

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports.export.cells import CellKind, NotACell, as_text, read_cell
from reports.export.sheet_text import as_sheet_text
from reports.export.writing import sheet_cell

LETTERS = st.characters(exclude_categories=["Cs"], exclude_characters="\0")
VALUES = st.one_of(
    st.tuples(st.just(CellKind.TEXT), st.just(0), st.text(LETTERS)),
    st.tuples(st.just(CellKind.KEY), st.just(0), st.uuids()),
    st.tuples(st.just(CellKind.WHOLE), st.just(0), st.integers(-(10**17), 10**17)),
    st.tuples(st.just(CellKind.DAY), st.just(0), st.dates()),
    st.tuples(
        st.just(CellKind.INSTANT),
        st.just(0),
        st.datetimes(timezones=st.just(dt.UTC)),
    ),
    st.tuples(st.just(CellKind.CLOCK), st.just(0), st.times()),
    st.tuples(st.just(CellKind.YES_NO), st.just(0), st.booleans()),
    st.integers(0, 5).flatmap(
        lambda places: st.tuples(
            st.just(CellKind.NUMBER), st.just(places), st.decimals(-(10**7), 10**7, places=places)
        )
    ),
)


@given(VALUES)
def test_what_is_written_is_what_is_read(case: tuple[CellKind, int, Any]) -> None:
    kind, places, value = case
    assert read_cell(kind, as_text(value), places=places) == value


@pytest.mark.parametrize("kind", [kind for kind in CellKind if kind is not CellKind.TEXT])
def test_empty_cell_is_no_value(kind: CellKind) -> None:
    assert read_cell(kind, "") is read_cell(kind, "  ") is None


@pytest.mark.parametrize(
    ("kind", "text"),
    [
        (CellKind.TEXT, "a\0b"),
        (CellKind.TEXT, "\ud800"),
        (CellKind.KEY, "1234"),
        (CellKind.WHOLE, "1.5"),
        (CellKind.WHOLE, "1e9"),
        (CellKind.WHOLE, "٣"),
        (CellKind.WHOLE, "9" * 30),
        (CellKind.NUMBER, "NaN"),
        (CellKind.NUMBER, "-Infinity"),
        (CellKind.NUMBER, "1e999999"),
        (CellKind.NUMBER, "1,5"),
        (CellKind.NUMBER, "9" * 50),
        (CellKind.DAY, "31.5.2026"),
        (CellKind.DAY, "2026-02-30"),
        (CellKind.DAY, "20260531"),
        (CellKind.INSTANT, "2026-05-31T09:30:00"),
        (CellKind.INSTANT, "0001-01-01T00:00:00+14:00"),
        (CellKind.CLOCK, "25:00"),
        (CellKind.YES_NO, "true"),
    ],
)
def test_what_is_no_value_is_refused_in_words(kind: CellKind, text: str) -> None:
    with pytest.raises(NotACell) as refused:
        read_cell(kind, text, places=3)
    assert str(refused.value).encode()  # a sentence that can be shown


@pytest.mark.parametrize("text", ["2026-05-31 00:00:00", "2026-05-31T00:00:00", "2026-05-31"])
def test_day_that_a_spreadsheet_made_a_midnight_is_a_day(text: str) -> None:
    assert read_cell(CellKind.DAY, text) == dt.date(2026, 5, 31)


def test_whole_number_that_a_spreadsheet_gave_a_point_is_whole() -> None:
    assert read_cell(CellKind.WHOLE, "300.0") == 300


PREFIXES = [
    *("=", "+", "-", "@", "\t", "\r", "\n", "\r\n", "'=", "''=", '"=', " =", "\u00a0=", "\u2003+", "\ufeff="),
    *(
        "\u200b@",
        "\uff1d",
        "\uff0b",
        "\uff0d",
        "\uff20",
        "\u2212",
        "=\t",
        "\t=",
        "\n=",
        "a\n=",
        "a\r=",
        "a\r\n+",
    ),
    *(
        "a\n\t",
        "a\n =",
        "a\n\u00a0-",
        "'",
        "%",
        "|",
        ";=",
        ",=",
        '";=',
        "\x0b=",
        "\x0c=",
        "\x1f=",
        "\x85=",
        "{=",
    ),
]


def test_forty_prefixes() -> None:
    assert len(PREFIXES) == len(set(PREFIXES)) == 41


@pytest.mark.parametrize("prefix", PREFIXES, ids=repr)
def test_no_text_is_a_formula_in_a_workbook(prefix: str) -> None:
    text = f"{prefix}1+cmd|' /C calc'!A0"
    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet()
    sheet.append([sheet_cell(sheet, text), sheet_cell(sheet, Decimal("-1.5")), sheet_cell(sheet, -3)])
    file = io.BytesIO()
    book.save(file)

    ((cell, number, whole),) = openpyxl.load_workbook(file).active.iter_rows()
    assert (cell.data_type, number.data_type, whole.data_type) == ("s", "n", "n")
    assert (number.value, whole.value) == (-1.5, -3)
    with zipfile.ZipFile(file) as packed:
        assert b"<f>" not in packed.read("xl/worksheets/sheet1.xml")


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("plain", "plain"),
        ("a\r\nb", "a_x000D_\nb"),
        ("_x0041_", "_x005F_x0041_"),
        ("_x005F_x0041_", "_x005F_x005F_x005F_x0041_"),
        ("_xyz_", "_xyz_"),
        ("\x01\x7f", "_x0001_\x7f"),
        ("\ufffe", "_xFFFE_"),
        ("tab\tline\n", "tab\tline\n"),
    ],
)
def test_letters_that_xml_cannot_carry_are_escaped(text: str, kept: str) -> None:
    assert as_sheet_text(text) == kept


def test_key_is_written_as_everywhere() -> None:
    assert as_text(uuid.UUID(int=1)) == "00000000-0000-0000-0000-000000000001"
