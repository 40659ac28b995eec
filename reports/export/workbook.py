"""A workbook that comes back: read sheet by sheet in a process of its own, within the limits of any club's file."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path

from counts.tables import CannotRead, Choices, read_table
from reports.export.catalogue import ABOUT, BACK

Lines = Iterator[tuple[int, Mapping[str, str]]]


def workbook_tables(data: bytes) -> dict[str, Lines]:
    """The sheets that come back, by name, each read when it is asked for. Errors: CannotRead."""
    return {name: _sheet(data, name) for name in (ABOUT, *BACK)}


def _sheet(data: bytes, name: str) -> Lines:
    with tempfile.NamedTemporaryFile(suffix=".xlsx") as file:
        file.write(data)
        file.flush()
        try:
            table = read_table(
                Path(file.name), name=name, choices=Choices(sheet=name, header_row=1, exact=True)
            )
        except CannotRead as error:
            if error.code == "no-such-sheet":
                return
            raise
        with table:
            for row in table.rows():
                if row.n > table.header_row:
                    yield row.n, _by_heading(table.headings, row.cells)


def _by_heading(headings: tuple[str, ...], cells: tuple[str | None, ...]) -> dict[str, str]:
    return {name: cell or "" for name, cell in zip(headings, cells, strict=False)}
