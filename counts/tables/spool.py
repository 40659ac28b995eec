"""Rows on their way from the process that reads to the one that asked, in a file without a name.

A file without a name is gone with the last process that holds it, however that process ends.
"""

import json
import os
import tempfile
from collections.abc import Iterator, Sequence
from typing import BinaryIO, Self

from counts.tables.limits import MB, MOST_SPOOL_BYTES
from counts.tables.refusals import Refused, Why
from counts.tables.shapes import Cell, Row

_PIECE = 256 * 1024


class Spool:
    """The file; it may be read by several iterators at once. Closed at the latest when nobody holds it any more."""

    def __init__(self) -> None:
        with tempfile.TemporaryFile() as file:
            self._handle: int | None = os.dup(file.fileno())

    @property
    def handle(self) -> int:
        """Its number among this process's open files. Errors: ValueError once it is closed."""
        if self._handle is None:
            raise ValueError("The rows of this table are gone: it was closed.")
        return self._handle

    def rows(self, width: int) -> Iterator[Row]:
        """Every row, each filled up with None to this width."""
        place, rest = 0, b""
        while piece := os.pread(self.handle, _PIECE, place):
            place += len(piece)
            *lines, rest = (rest + piece).split(b"\n")
            for line in lines:
                n, cells = json.loads(line)
                yield Row(n, tuple(cells) + (None,) * (width - len(cells)))

    def close(self) -> None:
        """Give the file up, with all its rows."""
        if self._handle is not None:
            os.close(self._handle)
            self._handle = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def __del__(self) -> None:
        self.close()


class Writer:
    """What the reading process writes rows with; counts them."""

    def __init__(self, file: BinaryIO) -> None:
        self._file = file
        self._size = 0
        self.count = 0
        self.width = 0

    def write(self, n: int, cells: Sequence[Cell]) -> None:
        """Keep a row: its number and its cells, without empty ones at the end. Errors: Refused UNFOLDS."""
        line = json.dumps((n, cells), ensure_ascii=False, separators=(",", ":"))
        data = line.encode("utf-8", "replace") + b"\n"
        self._size += len(data)
        if self._size > MOST_SPOOL_BYTES:
            raise Refused(Why.UNFOLDS, size=-(-self._size // MB), most=MOST_SPOOL_BYTES // MB)
        self._file.write(data)
        self.count += 1
        self.width = max(self.width, len(cells))
