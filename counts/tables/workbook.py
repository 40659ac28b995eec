"""A workbook in XLSX, row by row: values as they were kept when it was last saved, formulas never worked out. Pure.

openpyxl reads, by the parsers beneath its workbooks: those fill every gap up to the last cell of a sheet, which may be
XFD1048576, and take apart drawings, themes and rules for colours, which are often odd and never wanted here.
"""

from __future__ import annotations

import warnings
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from typing import IO, Any, BinaryIO
from xml.etree.ElementTree import ParseError
from zipfile import BadZipFile
from zlib import error as ZlibError

from openpyxl.reader.excel import ExcelReader
from openpyxl.styles.numbers import BUILTIN_FORMATS, BUILTIN_FORMATS_MAX_SIZE
from openpyxl.styles.stylesheet import apply_stylesheet
from openpyxl.utils.datetime import MAC_EPOCH
from openpyxl.utils.escape import unescape
from openpyxl.worksheet import _reader
from openpyxl.worksheet.cell_range import CellRange
from openpyxl.xml.constants import SHARED_STRINGS, SHEET_MAIN_NS

from counts.tables.archive import check_archive, refuse_declarations
from counts.tables.cells import percent_of, row_of, text_of
from counts.tables.limits import MOST_COLUMNS
from counts.tables.refusals import Refused, Why
from counts.tables.shapes import Cell, Choices, Found
from counts.tables.sheet import Keeper, Numbered, Sheet

parsing: Any = _reader  # what its types do not tell
_LAST_ROW = 1_048_576
_DAMAGE = (
    *(ArithmeticError, AttributeError, BadZipFile, EOFError, LookupError, NotImplementedError, OSError),
    *(ParseError, RecursionError, TypeError, ValueError, ZlibError),
)
"""What openpyxl is known to raise for files that are not as they should be."""
_TEXT, _RUN, _ITEM = (f"{{{SHEET_MAIN_NS}}}{name}" for name in ("t", "r", "si"))
_RANGE = f"{{{SHEET_MAIN_NS}}}mergeCell"
_WITHIN_ROWS = {parsing.CELL_TAG, parsing.VALUE_TAG, parsing.FORMULA_TAG, parsing.INLINE_STRING, _TEXT, _RUN}


@dataclass(frozen=True, slots=True)
class _Place:
    """A sheet and where it is in the archive."""

    title: str
    part: str
    visible: bool


class _Book(ExcelReader):
    """A workbook's list of sheets, its texts and its formats of numbers."""

    def __init__(self, file: BinaryIO) -> None:
        super().__init__(file, read_only=True, data_only=True, keep_links=False)
        self.read_manifest()
        self.read_strings()
        self.read_workbook()
        apply_stylesheet(self.archive, self.wb)
        self.places = [
            _Place(sheet.name, related.target, sheet.state == "visible")
            for sheet, related in self.parser.find_sheets()
            if related.target in self.valid_files and "chartsheet" not in related.Type
        ]
        self.formats: Any = self.wb
        self.percents = _percents(self.wb)

    def read_strings(self) -> None:
        """The texts that cells point to."""
        package: Any = self.package
        if part := package.find(SHARED_STRINGS):
            with self.archive.open(part.PartName[1:]) as source:
                for _, element in parsing.iterparse(source):
                    if element.tag == _ITEM:
                        self.shared_strings.append(_text(element))
                        element.clear()


def _text(element: Any) -> str:
    """The text of a string, in one piece or in runs of different looks; without how it is pronounced."""
    runs = (part if part.tag == _TEXT else part.find(_TEXT) for part in element if part.tag in (_TEXT, _RUN))
    return "".join(part.text or "" for part in runs if part is not None)


class _Rows(parsing.WorkSheetParser):
    """The rows of a sheet, and what was met on the way."""

    def __init__(self, source: IO[bytes], book: _Book, *, exact: bool = False) -> None:
        super().__init__(
            source,
            book.shared_strings,
            data_only=True,
            epoch=book.wb.epoch,
            date_formats=book.formats._date_formats,
            timedelta_formats=book.formats._timedelta_formats,
        )
        self._percents = book.percents
        self._exact = exact
        self.formulas = 0
        self.ranges: list[str] = []

    def rows(self) -> Iterator[Numbered]:
        """The filled rows. Errors: Refused COLUMNS, CELL, DAMAGED; and those of openpyxl."""
        for _, element in parsing.iterparse(self.source):
            if element.tag == parsing.ROW_TAG:
                n, found = self.parse_row(element)
                element.clear()
                self.row_dimensions.clear()
                if not 1 <= n <= _LAST_ROW:
                    raise Refused(Why.DAMAGED)
                if cells := row_of(n, self._texts(n, found), exact=self._exact):
                    yield n, cells
            elif element.tag == _RANGE:
                self.ranges.append(element.get("ref", ""))
            elif element.tag not in _WITHIN_ROWS:
                element.clear()

    def parse_cell(self, element: Any) -> dict[str, Any]:
        """What openpyxl makes of a cell; texts that stand in it are taken here, ten times as fast."""
        cell: dict[str, Any]
        if element.get("t") == "inlineStr" and (within := element.find(parsing.INLINE_STRING)) is not None:
            text = _text(within)
            element.remove(within)
            cell = super().parse_cell(element)
            return cell | {"value": text, "data_type": "s"}
        cell = super().parse_cell(element)
        if (
            cell["value"] is None
            and cell["data_type"] == "n"
            and element.find(parsing.FORMULA_TAG) is not None
        ):
            self.formulas += 1
        return cell

    def _texts(self, n: int, found: list[dict[str, Any]]) -> list[Cell]:
        texts: list[Cell] = []
        for cell in found:
            text = text_of(cell["value"], percent=self._percents.get(cell["style_id"], ""))
            if text is None or not (text if self._exact else text.strip()):
                continue
            place = cell["column"]
            if place > MOST_COLUMNS:
                raise Refused(Why.COLUMNS, row=n, most=MOST_COLUMNS)
            texts += [None] * (place - len(texts))
            texts[place - 1] = unescape(text) if "_x" in text else text
        return texts


def read_workbook(file: BinaryIO, choices: Choices, known: Collection[str], keeper: Keeper) -> Found:
    """Read the chosen sheet, or the first that has headings. Errors: Refused."""
    check_archive(file)
    refuse_declarations(file)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of what openpyxl passes over
            return _read(_Book(file), choices, known, keeper)
    except _DAMAGE as error:
        raise Refused(Why.MEMORY if "out of memory" in str(error) else Why.DAMAGED) from error


def _read(book: _Book, choices: Choices, known: Collection[str], keeper: Keeper) -> Found:
    chosen = _place(book, choices, known)
    with book.archive.open(chosen.part) as source:
        rows = _Rows(source, book, exact=choices.exact)
        n, headings = Sheet(rows.rows(), choices.header_row, known).keep(keeper)
    return Found(
        kind="xlsx",
        sheets=[place.title for place in book.places],
        sheet=chosen.title,
        header_row=n,
        headings=headings,
        row_count=keeper.count,
        merged=any(CellRange(ref).max_row >= n for ref in rows.ranges),
        formulas=rows.formulas,
        since_1904=book.wb.epoch == MAC_EPOCH,
    )


def _place(book: _Book, choices: Choices, known: Collection[str]) -> _Place:
    """The chosen sheet; else the first with known headings, with headings, or the first. Hidden ones come last."""
    if choices.sheet is not None:
        named = [place for place in book.places if place.title == choices.sheet]
        if not named:
            raise Refused(Why.NO_SUCH_SHEET, sheet=choices.sheet)
        return named[0]
    places = sorted(book.places, key=lambda place: not place.visible)
    if not places:
        raise Refused(Why.DAMAGED)
    with_headings = []
    for place in places if len(places) > 1 else ():
        with book.archive.open(place.part) as source:
            looked_at = Sheet(_Rows(source, book).rows(), choices.header_row, known)
        if looked_at.is_known:
            return place
        if looked_at.heading is not None:
            with_headings.append(place)
    return (with_headings or places)[0]


def _percents(book: Any) -> dict[int, str]:
    """Styles that show a percent sign, as `text_of` takes it."""
    found = {}
    for at, style in enumerate(book._cell_styles):
        number = style.numFmtId
        if number < BUILTIN_FORMATS_MAX_SIZE:
            written = BUILTIN_FORMATS.get(number, "General")
        else:
            written = book._number_formats[number - BUILTIN_FORMATS_MAX_SIZE]
        if percent := percent_of(written):
            found[at] = percent
    return found
