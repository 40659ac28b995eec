"""A sheet of any kind of file: its headings found, its rows counted and kept. Pure."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from itertools import chain
from typing import Protocol

from counts.tables.headings import heading_index, known_headings
from counts.tables.limits import HEADING_ROWS, MOST_ROWS
from counts.tables.refusals import Refused, Why
from counts.tables.shapes import Cell

Numbered = tuple[int, list[Cell]]


class Keeper(Protocol):
    """What keeps rows, one after the other."""

    count: int
    width: int

    def write(self, n: int, cells: list[Cell], /) -> None: ...


class Sheet:
    """The filled rows of a sheet, of which the first have been looked at.

    `heading` is the place of the headings among them, or None. `chosen` is the number of the row that somebody named.
    """

    def __init__(self, rows: Iterator[Numbered], chosen: int | None, known: Collection[str]) -> None:
        self._chosen, self._known = chosen, known
        self._first: list[Numbered] = []
        self._rest: Iterable[Numbered] = rows
        last = 2 * HEADING_ROWS if chosen is None else chosen
        for n, cells in rows:
            if n > last:
                self._rest = chain([(n, cells)], rows)
                break
            if chosen is None or n == chosen:
                self._first.append((n, cells))
        if chosen is None:
            among = sum(1 for n, _ in self._first if n <= HEADING_ROWS)
            self.heading = heading_index([cells for _, cells in self._first], known, among=among)
        else:
            self.heading = 0 if self._first else None

    @property
    def is_known(self) -> bool:
        """Whether the headings are among those that are known."""
        return self.heading is not None and known_headings(self._first[self.heading][1], self._known) >= 2

    def keep(self, keeper: Keeper) -> tuple[int, list[str]]:
        """Write every row below the headings; their row's number, and their texts up to the widest row.

        Errors: Refused NO_HEADING, HEADING_ROW, ROWS.
        """
        if self.heading is None and self._chosen is not None:
            raise Refused(Why.HEADING_ROW, row=self._chosen)
        if self.heading is None:
            raise Refused(Why.NO_HEADING, rows=HEADING_ROWS)
        n, headings = self._first[self.heading]
        for number, cells in chain(self._first[self.heading + 1 :], self._rest):
            if keeper.count >= MOST_ROWS:
                raise Refused(Why.ROWS, most=MOST_ROWS)
            keeper.write(number, cells)
        texts = [cell or "" for cell in headings]
        return n, texts + [""] * (keeper.width - len(texts))
