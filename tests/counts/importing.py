"""Short ways to sheets in tests: read by the real reader, or put together here where the reading does not matter."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from apiaries.models import Person
from counts.imports.actions import take_in_sheet
from counts.imports.said import Said
from counts.imports.working import read_batch
from counts.models import ImportBatch
from counts.tables import Row
from tests.counts.counting import AT

HEAD = "yard,colony,date,method,mites,bees\n"
GOOD = HEAD + "Home yard,1,2026-08-12,alcohol wash,9,300\nHome yard,2,2026-08-12,alcohol wash,0,300\n"
MIXED = GOOD + (
    "Home yard,3,2026-08-12,alcohol wash,73,300\n"
    "Home yard,44,2026-08-12,alcohol wash,2,300\n"
    "Home yard,5,2026-08-12,alcohol wash,,300\n"
    "Nowhere,6,2026-08-12,alcohol wash,2,300\n"
)
"""Two ready rows, one with very many mites, one of a colony that is not here, one not counted, one of no yard."""


@dataclass(slots=True)
class Lines:
    """A table as the reader gives it, of comma-separated lines; without a process of its own."""

    text: str
    kind: str = "csv"
    sheets: tuple[str, ...] = ()
    sheet: str | None = None
    encoding: str | None = "utf-8"
    delimiter: str | None = ","
    header_row: int = 1
    merged: bool = False
    formulas: int = 0
    since_1904: bool = False

    @property
    def headings(self) -> tuple[str, ...]:
        return tuple(self.text.splitlines()[0].split(","))

    @property
    def row_count(self) -> int:
        return len(self.text.splitlines()) - 1

    def rows(self) -> Iterator[Row]:
        for at, line in enumerate(self.text.splitlines()[1:]):
            yield Row(at + 2, tuple(cell or None for cell in line.split(",")))

    def __enter__(self) -> "Lines":
        return self

    def __exit__(self, *_: object) -> None:
        return None


def sheet_of(by: Person, text: str, *, name: str = "counts.csv", **said: Any) -> ImportBatch:
    """A sheet of this person's, its rows sorted."""
    club = by.membership.club
    batch = take_in_sheet(club=club, name=name, data=text.encode(), said=Said(**said), at=AT, by=by)
    assert read_batch(batch, table=Lines(text))
    return batch


def statuses(batch: ImportBatch) -> Sequence[str]:
    """The status of each row, in order."""
    return list(batch.staged.values_list("status", flat=True))
