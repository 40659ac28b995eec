"""Files as clubs send them: what is read from each."""

import datetime as dt

import openpyxl
import pytest

from counts.tables import Choices
from tests.files.conftest import Read, Refuse
from tests.files.making import HEADINGS, book, csv_text, heading_xml, packed, with_sheet, with_texts

ROW = ("Home", 1, "2026-08-12", "alcohol wash", 9, 300)
CELLS = ("Home", "1", "2026-08-12", "alcohol wash", "9", "300")


@pytest.mark.parametrize(
    "encoding",
    ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "cp1252", "mac-roman", "cp850"],
)
def test_umlauts_come_through_in_any_encoding(read: Read, encoding: str) -> None:
    data = csv_text(
        ("Bärengarten", 1, "2026-08-12", "board", 3, "Königin gezeichnet, Völker stark"), delimiter=";"
    )

    table, rows = read(data.encode(encoding))

    assert table.kind == "csv"
    assert [rows[0].cells[0], rows[0].cells[5]] == ["Bärengarten", "Königin gezeichnet, Völker stark"]


@pytest.mark.parametrize("encoding", ["iso8859-7", "cp1251"])
def test_other_scripts_are_told_from_western_ones(read: Read, encoding: str) -> None:
    word = {"iso8859-7": "Κυψέλη στα πεύκα", "cp1251": "Липовая поляна"}[encoding]

    _, rows = read(csv_text((word, 1, "2026-08-12", "board", 3, word)).encode(encoding))

    assert rows[0].cells[0] == word


def test_chosen_encoding_is_taken(read: Read, refused: Refuse) -> None:
    data = csv_text(("Bär", 1, "2026-08-12", "board", 3, 300)).encode("cp1250")

    table, rows = read(data, choices=Choices(encoding="mac-roman"))
    assert (table.encoding, rows[0].cells[0]) == ("mac-roman", "B‰r")

    wrong = refused(data, choices=Choices(encoding="utf-8"))
    assert (wrong.code, wrong.values) == ("encoding", {"encoding": "utf-8"})
    assert refused(data, choices=Choices(encoding="no such thing")).code == "encoding"


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_delimiter_is_found(read: Read, delimiter: str) -> None:
    table, rows = read(csv_text(ROW, delimiter=delimiter).encode())

    assert (table.delimiter, rows[0].cells) == (delimiter, CELLS)


def test_decimal_commas_between_semicolons(read: Read) -> None:
    table, rows = read(b"hive;rate;days;ml\n1;2,5;3,5;100,0\n2;1,5;3,0;50,0\n", known=())

    assert (table.delimiter, rows[0].cells) == (";", ("1", "2,5", "3,5", "100,0"))


def test_semicolons_within_notes_part_nothing(read: Read) -> None:
    table, rows = read(b"hive,note\n1,late; cold; weak\n2,early; warm; strong\n", known=())

    assert (table.delimiter, rows[0].cells) == (",", ("1", "late; cold; weak"))


def test_first_line_may_say_the_delimiter(read: Read) -> None:
    table, rows = read(b"sep=|\nhive|mites,varroa|date\n1|2,3|2026-08-12\n", known=())

    assert (table.delimiter, table.header_row, rows[0].cells) == ("|", 2, ("1", "2,3", "2026-08-12"))


def test_chosen_delimiter_is_taken(read: Read, refused: Refuse) -> None:
    table, rows = read(csv_text(ROW).encode(), choices=Choices(delimiter=";", header_row=1))

    assert rows[0].cells == (",".join(CELLS),)
    assert refused(csv_text(ROW).encode(), choices=Choices(delimiter="x")).code == "delimiter"


def test_single_quotes_are_known_by_their_place(read: Read) -> None:
    _, rows = read(b"hive;note;date\n'1';'late; cold';'12.8.2026'\n'2';'it''s fine';''\n", known=())

    assert [row.cells for row in rows] == [("1", "late; cold", "12.8.2026"), ("2", "it's fine", None)]


def test_quoted_line_ends_stay_in_their_cell_and_lines_are_numbered_by_the_file(read: Read) -> None:
    data = csv_text(("Home", 1, "2026-08-12", '"wash,\r\nthen ""roll"""', 9, 300), ROW).encode()

    _, rows = read(data)

    assert [(row.n, row.cells[3]) for row in rows] == [(2, 'wash,\nthen "roll"'), (4, "alcohol wash")]


@pytest.mark.parametrize("end", [b"\r\n", b"\r", b"\n"])
def test_any_line_end_ends_a_line(read: Read, end: bytes) -> None:
    _, rows = read(csv_text(ROW, ROW).encode().replace(b"\n", end) + b"\x1a")

    assert [(row.n, row.cells) for row in rows] == [(2, CELLS), (3, CELLS)]


def test_title_and_blank_rows_may_stand_above_and_between(read: Read) -> None:
    data = (
        "Counts of our club 2026,,\n,by the secretary,\n\n"
        + csv_text(ROW, [""] * 6, ROW, ("", 2))
        + ",,,,,,,,\n"
    )

    table, rows = read(data.encode(), known=())

    assert (table.header_row, table.headings, table.row_count) == (4, HEADINGS, 3)
    assert [row.n for row in rows] == [5, 7, 8]
    assert rows[2].cells == (None, "2", None, None, None, None)


def test_headings_far_below_must_be_chosen(read: Read, refused: Refuse) -> None:
    data = b"\n" * 29 + csv_text(ROW).encode()

    assert refused(data).code == "no-heading"
    assert read(data, choices=Choices(header_row=30))[0].headings == HEADINGS
    wrong = refused(data, choices=Choices(header_row=3))
    assert (wrong.code, wrong.sentence) == ("heading-row", "Row 3 holds no headings. Choose another row.")


def test_cells_beyond_the_headings_are_kept(read: Read) -> None:
    table, rows = read(csv_text((*ROW, "", "weak, late")).replace("weak, late", '"weak, late"').encode())

    assert table.headings == (*HEADINGS, "", "")
    assert rows[0].cells == (*CELLS, None, "weak, late")


def test_odd_cells_stay_as_they_were_typed(read: Read) -> None:
    _, rows = read(csv_text(("Home", "007", "03/04/26", " 73/300 ", "none", "1 000")).encode())

    assert rows[0].cells == ("Home", "007", "03/04/26", "73/300", "none", "1 000")


def test_table_without_rows_is_a_table(read: Read) -> None:
    table, rows = read(csv_text().encode())

    assert (table.headings, table.row_count, rows) == (HEADINGS, 0, [])


def test_rows_without_headings_are_no_table(refused: Refuse) -> None:
    wrong = refused(b"Home,1,2026-08-12,9,300\nHome,2,2026-08-12,0,300\n")

    assert (wrong.code, wrong.values) == ("no-heading", {"rows": 20})


def test_typed_cells_come_as_iso_and_shortest_text(read: Read) -> None:
    made = book(
        ("Home", 1, dt.date(2026, 8, 12), "73/300", 0.1 + 0.2, 300.0),
        ("Home", "007", dt.datetime.fromisoformat("2026-08-12T10:30"), True, -2.5, 1234567),
        (None, None, dt.time(10, 30), dt.timedelta(hours=26), 1e-7, 1e15),
    )

    table, rows = read(packed(made))

    assert (table.kind, table.encoding, table.delimiter) == ("xlsx", None, None)
    assert [row.cells for row in rows] == [
        ("Home", "1", "2026-08-12", "73/300", "0.3", "300"),
        ("Home", "007", "2026-08-12T10:30:00", "TRUE", "-2.5", "1234567"),
        (None, None, "10:30:00", "26:00:00", "0.0000001", "1000000000000000"),
    ]


def test_percent_cells_come_as_they_are_shown(read: Read) -> None:
    made = book(("Home", 0.025, 0.03, 2.5, 9, 300))
    for place, shown in {"B2": "0.0%", "C2": "0%", "D2": '0.0"%"'}.items():
        made.active[place].number_format = shown

    _, rows = read(packed(made))

    assert rows[0].cells[1:4] == ("2.5%", "3%", "2.5%")


def test_day_numbers_from_1904_are_told_apart(read: Read) -> None:
    made = book(("Home", 1, dt.date(2026, 8, 12), "board", 44783, 300))
    made.epoch = openpyxl.utils.datetime.CALENDAR_MAC_1904

    table, rows = read(packed(made))

    assert (table.since_1904, rows[0].cells[2]) == (True, "2026-08-12")


def test_formulas_give_the_result_that_was_kept_or_nothing(read: Read) -> None:
    cells = (
        '<c r="A2" t="str"><f>B1</f><v>Home</v></c>',
        '<c r="B2"><f>1+1</f><v>2</v></c>',
        '<c r="C2"><f>3+3</f></c>',  # never worked out
        '<c r="D2" t="str"><f>""</f><v></v></c>',  # worked out, and nothing came
        '<c r="E2" t="e"><f>1/0</f><v>#DIV/0!</v></c>',
        '<c r="F2"><f>9</f><v/></c>',  # never worked out
    )

    table, rows = read(with_sheet([heading_xml(), f'<row r="2">{"".join(cells)}</row>'.encode()]))

    assert rows[0].cells == ("Home", "2", None, None, "#DIV/0!", None)
    assert table.formulas == 2


def test_merged_cells_have_their_value_in_the_first(read: Read) -> None:
    made = book(ROW, ROW, ROW)
    made.active.merge_cells("A2:A4")

    table, rows = read(packed(made))

    assert table.merged
    assert [row.cells[0] for row in rows] == ["Home", None, None]


def test_merged_title_above_the_headings_is_no_matter(read: Read) -> None:
    made = openpyxl.Workbook()
    made.active.append(["Counts of our club"])
    made.active.merge_cells("A1:F1")
    for row in ([], HEADINGS, ROW):
        made.active.append(list(row))

    table, _ = read(packed(made))

    assert (table.merged, table.header_row) == (False, 3)


def test_first_sheet_with_headings_is_read_unless_another_is_chosen(read: Read, refused: Refuse) -> None:
    made = openpyxl.Workbook()
    made.active.title = "Read me"
    made.active["A1"] = "Our club"
    made.create_sheet("Hidden").append(HEADINGS)
    made["Hidden"].sheet_state = "hidden"
    for title, hive in (("2025", 5), ("2026", 6)):
        made.create_sheet(title).append(HEADINGS)
        made[title].append(["Home", hive])

    table, rows = read(packed(made))
    assert (table.sheets, table.sheet) == (("Read me", "Hidden", "2025", "2026"), "2025")
    assert rows[0].cells[1] == "5"

    assert read(packed(made), choices=Choices(sheet="2026"))[1][0].cells[1] == "6"
    wrong = refused(packed(made), choices=Choices(sheet="2027"))
    assert (wrong.code, wrong.sentence) == ("no-such-sheet", "The workbook has no sheet called “2027”.")


def test_shared_texts_and_runs_of_looks_are_whole_texts(read: Read) -> None:
    runs = b"<si><r><rPr><b/></rPr><t>al</t></r><r><t>cohol</t></r>"
    said = b'<rPh sb="0" eb="1"><t>said so</t></rPh></si>'

    _, rows = read(with_texts([runs, said]))

    assert rows[0].cells == ("alcohol",) * 6


def test_name_of_the_file_decides_nothing(read: Read) -> None:
    assert read(packed(book(ROW)), name="counts.csv")[0].kind == "xlsx"
    assert read(csv_text(ROW).encode(), name="counts.xlsx")[0].kind == "csv"


def test_same_file_twice_is_the_same_table(read: Read) -> None:
    data = packed(book(ROW))

    (first, rows), (again, rows_again) = read(data), read(data)

    assert rows == rows_again
    assert first.sha256 == again.sha256
    assert first.sha256 != read(packed(book(ROW, ROW)))[0].sha256
