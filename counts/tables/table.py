"""A table that was read: what is known about it, and its rows one after the other."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Self

from counts.tables.shapes import Kind, Row
from counts.tables.spool import Spool


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One sheet of a workbook, or a CSV. Close it, or use it in a `with`: its rows are held in a file until then.

    `headings` has a text for each column up to the widest row; "" where none stands. `merged`: cells were merged in or
    below the heading row, and only the first of them has the value. `formulas`: so many cells hold a formula whose
    result the workbook does not keep; they came as None. `since_1904`: day numbers that stand in it as plain numbers
    count from 1904, not from 1900. `sha256` is of the bytes that were read, in hex. `peak_bytes`: the most memory that
    the reading process had in use.
    """

    kind: Kind
    sheets: tuple[str, ...]
    sheet: str | None
    encoding: str | None
    delimiter: str | None
    header_row: int
    headings: tuple[str, ...]
    row_count: int
    merged: bool
    formulas: int
    since_1904: bool
    sha256: str
    peak_bytes: int
    _spool: Spool = field(repr=False, compare=False)

    def rows(self) -> Iterator[Row]:
        """The rows below the headings that have something in them, in the order of the file."""
        return self._spool.rows(len(self.headings))

    def close(self) -> None:
        """Give the rows up."""
        self._spool.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()
