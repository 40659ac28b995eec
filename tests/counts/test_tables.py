"""Cells, headings and encodings of clubs' tables, without files and processes (for those see tests/files)."""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counts.tables import Choices
from counts.tables.cells import clean, letters, number_text, percent_of
from counts.tables.encodings import likeliest
from counts.tables.headings import heading_index, plain
from counts.tables.text import text_in
from tests.files.making import HEADINGS

CELLS = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), max_size=20) | st.sampled_from(
    ['"', "a\nb", ";", ",", "'", "3/300", "2,5"]
)


@given(st.lists(st.lists(CELLS, min_size=2, max_size=5), max_size=8), st.sampled_from([",", ";", "\t", "|"]))
def test_what_a_writer_wrote_is_read(rows: list[list[str]], delimiter: str) -> None:
    file = io.StringIO(newline="")
    csv.writer(file, delimiter=delimiter, quoting=csv.QUOTE_ALL).writerows([HEADINGS, *rows])

    text = text_in(io.BytesIO(file.getvalue().encode("utf-8-sig")), Choices(delimiter=delimiter))

    wanted = [[clean(cell) for cell in row] for row in rows]
    assert [cells for _, cells in text.rows()][1:] == [trimmed(row) for row in wanted if any(row)]


def trimmed(row: list[str | None]) -> list[str | None]:
    return row[: max(at + 1 for at, cell in enumerate(row) if cell)]


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (300, "300"),
        (300.0, "300"),
        (0.1 + 0.2, "0.3"),
        (2.50, "2.5"),
        (-0.5, "-0.5"),
        (1e21, "1" + "0" * 21),
        (100, "100"),
    ],
)
def test_numbers_are_written_shortly_and_without_exponents(value: float, text: str) -> None:
    assert number_text(value) == text


def test_percent_signs_of_formats() -> None:
    assert [percent_of(one) for one in ("0%", "0.0%;-0.0%", '0"%"', r"0\%", "General", "0.0")] == [
        *("of 1", "of 1", "as is", "as is", "", "")
    ]


def test_columns_have_letters() -> None:
    assert [letters(at) for at in (1, 26, 27, 52, 53, 702, 703, 16384)] == [
        *("A", "Z", "AA", "AZ", "BA", "ZZ", "AAA", "XFD")
    ]


HEADED = [
    ([["Hive", "Mites"], ["1", "3"]], 0),
    ([["Club of the hills"], [], ["Hive", "Mites"], ["1", "3"]], 2),
    ([["Club", "2026"], ["Hive", "Date", "Mites", "Note"], ["1", "12.8.2026", "3", "late"]], 1),
    ([["a", "b", "c"], *[["Home", "wash", "some", "none", "x"]] * 3], 0),
    ([["Hive", "Mites"]], 0),
    ([["1", "3"], ["2", "4"]], None),
    ([["one remark"], ["another"]], None),
    ([], None),
]


@pytest.mark.parametrize(("rows", "at"), HEADED)
def test_headings_are_short_texts_over_filled_columns(rows: list[list[str]], at: int | None) -> None:
    assert heading_index(rows) == at


def test_known_headings_go_before_all_others() -> None:
    rows = [["My", "very", "own", "list"], ["Volk", "Milben", "", ""], ["a", "b", "c", "d"]]

    assert heading_index(rows) == 0
    assert heading_index(rows, {plain("VOLK"), plain("Milben:")}) == 1


def test_what_comes_back_is_all_text() -> None:
    assert clean(" a\r\nb\rc ") == "a\nb\nc"
    assert clean("\ud800x") == "x"
    assert clean(" \u00a0\t") is None


WORDS = {
    "German": ("Bärengarten;Völker schwächer;Königin süß;Überwinterung", ("cp1252", "mac-roman", "cp850")),
    "French": ("Été;près du chêne;à côté;ça va", ("cp1252", "mac-roman", "cp850")),
    "Spanish": ("Peña;señal ¿qué?;mañana", ("cp1252", "mac-roman", "cp850")),
    "Danish": ("bigård;Århus;Sjælland;sø", ("cp1252", "mac-roman", "cp850")),
    "Polish": ("Łąka żółta;źdźbło;Świerk", ("cp1250",)),
    "Czech": ("stanoviště;Příliš žluťoučký kůň", ("cp1250",)),
    "signs": ("20 °C;½ cup;5 µm", ("cp1252",)),
}


@pytest.mark.parametrize(("text", "encoding"), [(text, one) for text, many in WORDS.values() for one in many])
def test_short_texts_are_read_in_their_encoding(text: str, encoding: str) -> None:
    data = text.encode(encoding)

    assert data.decode(likeliest(data)) == text
