"""Why a file cannot be read, in words that say what to do. Pure.

The process that reads knows reasons and numbers only (`Refused`); whoever asked makes the sentence, in the reader's
language. Store the reason and the numbers, not the sentence.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum

from apiaries.language import figure, mark, say

Values = Mapping[str, int | str]


class Why(StrEnum):
    """What is in the way."""

    EMPTY = "empty"
    TOO_BIG = "too-big"
    NOT_A_SHEET = "not-a-sheet"
    OLD_WORKBOOK = "old-workbook"
    OTHER_WORKBOOK = "other-workbook"
    PASSWORD = "password"  # noqa: S105 - a reason, no secret
    DAMAGED = "damaged"
    UNFOLDS = "unfolds"
    PARTS = "parts"
    ENTITIES = "entities"
    NO_HEADING = "no-heading"
    HEADING_ROW = "heading-row"
    NO_SUCH_SHEET = "no-such-sheet"
    ENCODING = "encoding"
    DELIMITER = "delimiter"
    ROWS = "rows"
    COLUMNS = "columns"
    CELL = "cell"
    LINE = "line"
    QUOTE = "quote"
    TIME = "time"
    MEMORY = "memory"
    FAILED = "failed"


SENTENCES: Mapping[Why, str] = {
    Why.EMPTY: mark("The file is empty."),
    Why.TOO_BIG: mark("The file has {size} MB; at most {most} MB are read. Split it, by year for example."),
    Why.NOT_A_SHEET: mark(
        "This is not a table, neither a workbook nor text in columns. "
        "Save the table as XLSX or CSV, then choose that file."
    ),
    Why.OLD_WORKBOOK: mark(
        "This is a workbook of the old kind (XLS). Open it, save it as XLSX or CSV, then choose that file."
    ),
    Why.OTHER_WORKBOOK: mark(
        "This kind of file is not read here. Open it, save it as XLSX or CSV, then choose that file."
    ),
    Why.PASSWORD: mark(
        "The workbook is locked by a password. Save a copy without the password, then choose that one."
    ),
    Why.DAMAGED: mark(
        "The workbook is damaged or not complete. Open it, save it again as XLSX or CSV, then choose that file."
    ),
    Why.UNFOLDS: mark(
        "The workbook would unfold to {size} MB; at most {most} MB are read. "
        "Save the one sheet as CSV, then choose that file."
    ),
    Why.PARTS: mark(
        "The workbook has {parts} parts; at most {most} are read. Save the one sheet as CSV, then choose that file."
    ),
    Why.ENTITIES: mark(
        "The workbook holds declarations that no spreadsheet program writes, so it is not read. "
        "Save the sheet as CSV, then choose that file."
    ),
    Why.NO_HEADING: mark(
        "No row with headings was found in the first {rows} rows. "
        "Write a heading over each column, or say which row holds them."
    ),
    Why.HEADING_ROW: mark("Row {row} holds no headings. Choose another row."),
    Why.NO_SUCH_SHEET: mark("The workbook has no sheet called “{sheet}”."),
    Why.ENCODING: mark("The text cannot be read as {encoding}. Choose another encoding."),
    Why.DELIMITER: mark("Columns are parted by a comma, a semicolon, a tab or a bar. Choose one of these."),
    Why.ROWS: mark("The table has more than {most} rows. Split it, by year for example."),
    Why.COLUMNS: mark(
        "Row {row} reaches beyond column {most}. Take out the columns that are not about counts."
    ),
    Why.CELL: mark("Row {row}, column {column}: the cell holds more than {most} characters. Shorten it."),
    Why.LINE: mark(
        "Row {row} is too long for a row of a table. "
        "Perhaps a quotation mark in it is not closed, or this is another kind of file."
    ),
    Why.QUOTE: mark("A quotation mark that opens in row {row} is never closed. Close it or take it out."),
    Why.TIME: mark("Reading the file took too long. Save the one sheet as CSV, or split it by year."),
    Why.MEMORY: mark(
        "Reading the file took too much memory. Save the one sheet as CSV, or split it by year."
    ),
    Why.FAILED: mark(
        "The file could not be read. Open it, save it again as XLSX or CSV, then choose that file."
    ),
}


def sentence_of(why: Why, values: Values) -> str:
    """The reason in the language of whoever reads now. `values` as `CannotRead` holds them."""
    told = {name: figure(f"{one:,}") if isinstance(one, int) else one for name, one in values.items()}
    return say(SENTENCES[why], **told)


class Refused(Exception):
    """Raised where a file is read: a reason and its numbers, without words."""

    def __init__(self, why: Why, **values: int | str) -> None:
        super().__init__(why.value)
        self.why, self.values = why, values


class CannotRead(ValueError):
    """The file cannot be read; `sentence` says why and what to do, `code` and `values` are for storing.

    `peak_bytes`: the most memory that the reading process had in use; None if there was none or it could not say.
    """

    def __init__(
        self, sentence: str, *, code: str, values: Values | None = None, peak_bytes: int | None = None
    ) -> None:
        super().__init__(sentence)
        self.sentence, self.code, self.values, self.peak_bytes = (
            sentence,
            code,
            dict(values or {}),
            peak_bytes,
        )

    @classmethod
    def because(cls, why: Why, values: Values, *, peak_bytes: int | None = None) -> CannotRead:
        """The refusal for a reason, in the language of whoever reads now."""
        return cls(sentence_of(why, values), code=why.value, values=values, peak_bytes=peak_bytes)
