"""What becomes of each row of a sheet: ready, needs a look, error, or already here. Nothing is written.

A blank is "not counted" and never 0.
"""

import datetime as dt
import uuid
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from django.db.models import Exists, OuterRef

from apiaries.models import Colony, Yard
from counts.actions import estimate_of
from counts.constants import DEFAULTS
from counts.estimate import Estimate
from counts.imports.cells import cells_of
from counts.imports.columns import Column
from counts.imports.places import Places
from counts.imports.reasons import Kind, Reason, Status, about
from counts.imports.rows import Cells, Options, Row
from counts.models import ImportedCount, MiteSample
from counts.samples import BoardSample, JarSample, Method, Problem, problems_of, questions_about

KEYS = uuid.UUID("7e0f6a52-4f0c-5d0b-9c8e-2b6d4c1a9f30")
"""Entry keys of imported counts are made from this and the facts of the row: the same row twice is one count."""


@dataclass(slots=True)
class SortedRow:
    """A row with its status, its reasons, and the count it makes, if it makes one (then it has a key)."""

    number: int
    cells: Cells
    status: Status = Status.READY
    reasons: list[Reason] = field(default_factory=list)
    colony: Colony | None = None
    yard: Yard | None = None
    entry_key: uuid.UUID | None = None
    estimate: Estimate | None = None

    def becomes(self, status: Status, reasons: Sequence[Reason]) -> None:
        """Give it a status with reasons, if there are any."""
        if reasons:
            self.status = status
            self.reasons += reasons


Facts = tuple[int, dt.date, str]


class Sorter:
    """Sorts the rows of one sheet, some at a time; it remembers what it saw, so that a row said twice is one count."""

    def __init__(self, places: Places, options: Options, *, yards_named: bool) -> None:
        self.places, self.options, self.yards_named = places, options, yards_named
        self.seen: dict[uuid.UUID, int] = {}
        self.days: dict[Facts, int] = {}
        self.estimates: dict[object, Estimate | None] = {}

    def sort(self, rows: Sequence[Row]) -> list[SortedRow]:
        """The rows in order. Two queries, however many rows."""
        read = [
            (row, cells_of(row, self.options)) for row in rows if row.texts and not self.places.left_out(row)
        ]
        counted = [(row, cells) for row, cells in read if not _not_counted(cells)]
        places = self.places.find(counted, yards_named=self.yards_named)
        told = [self._told(row, cells, places.get(row.number)) for row, cells in read]
        self._mark_those_here([row for row in told if row.status is Status.READY])
        return told

    def _told(self, row: Row, cells: Cells, place: tuple[Colony, Yard] | None) -> SortedRow:
        told = SortedRow(row.number, cells)
        if _not_counted(cells):
            told.becomes(Status.LOOK, [one for one in cells.odd if one.kind == Kind.NOT_COUNTED])
            return told
        told.becomes(Status.ERROR, cells.wrong)
        if place is not None:
            told.colony, told.yard = place
        if told.status is Status.READY:
            told.becomes(Status.ERROR, [Reason(_column(one), one) for one in _problems(cells)])
        return told

    def _mark_those_here(self, rows: Sequence[SortedRow]) -> None:
        """Mark rows that are here already (voided ones too: what was struck out stays out), then ask about the rest.

        Counts that went with the undoing of a whole sheet do not stand in the way of bringing it in again.
        """
        here = _around(rows)
        for row in rows:
            same_day = here.get(_facts_day(row), [])
            same = [sample for sample in same_day if _numbers(sample) == _numbers(row.cells)]
            undone = [sample for sample in same if sample.undone]  # type: ignore[attr-defined]
            row.entry_key = _key(row, len(undone))
            if len(undone) < len(same):
                row.becomes(Status.HERE, [Reason("", Kind.HERE)])
            elif row.entry_key in self.seen:
                row.becomes(Status.HERE, [Reason("", Kind.SAME_ROW, {"row": self.seen[row.entry_key]})])
            else:
                row.becomes(Status.LOOK, self._questions(row, same_day))
                self.seen[row.entry_key] = row.number
                self.days.setdefault(_facts_day(row), row.number)
                row.estimate = self._estimate(row.cells)
            if row.status is Status.HERE:
                row.entry_key = None

    def _questions(self, row: SortedRow, same_day: Sequence[MiteSample]) -> list[Reason]:
        colony, cells = row.colony, row.cells
        value = value_of(cells)
        if colony is None or cells.day is None:
            raise ValueError("A row with errors is asked nothing.")
        asked = [
            *cells.odd,
            *([about(one, value) for one in questions_about(value)] if value is not None else []),
        ]
        when: dict[str, str | int] = {"colony": colony.name, "day": cells.day.isoformat()}
        for sample in same_day:
            if sample.voided_at is None:
                asked.append(Reason("", Kind.SAME_DAY, when | {"mites": sample.mites}))
        if (other := self.days.get(_facts_day(row))) is not None:
            asked.append(Reason("", Kind.SAME_DAY_IN_SHEET, {"row": other}))
        if colony.known_start is not None and cells.day < colony.known_start:
            asked.append(Reason(Column.DATE, Kind.EARLY, when))
        if colony.ended_on is not None and cells.day > colony.ended_on:
            asked.append(Reason(Column.DATE, Kind.GONE, when))
        if cells.method is Method.BOARD and cells.treated is None:
            asked.append(Reason(Column.TREATED, Kind.TREATED_UNKNOWN))
        return asked

    def _estimate(self, cells: Cells) -> Estimate | None:
        """The same numbers say the same: each is worked out once for a sheet."""
        value = value_of(cells)
        known = (value, bool(cells.treated))
        if known not in self.estimates:
            self.estimates[known] = estimate_of(
                value, treatment_in_hive=bool(cells.treated), constants=DEFAULTS
            )
        return self.estimates[known]


def value_of(cells: Cells) -> JarSample | BoardSample | None:
    """The pure sample of a row without errors; None for drone brood."""
    if cells.method is None or cells.mites is None:
        raise ValueError("A row with errors makes no count.")
    if cells.bees_by is not None:
        return JarSample(cells.mites, cells.bees or 0, cells.bees_by, cells.method)
    if cells.method is Method.BOARD:
        share = cells.cells_counted / cells.cells_total if cells.cells_counted and cells.cells_total else 1.0
        return BoardSample(cells.mites, float(cells.board_days or Decimal(0)), share)
    return None


def _not_counted(cells: Cells) -> bool:
    return any(one.kind == Kind.NOT_COUNTED for one in cells.odd)


def _problems(cells: Cells) -> Sequence[Problem]:
    value = value_of(cells)
    if value is not None:
        return problems_of(value)
    return () if (cells.mites or 0) <= (cells.cells_counted or 0) else (Problem.MORE_MITES_THAN_CELLS,)


def _column(problem: Problem) -> Column:
    return {
        Problem.BEES_NOT_POSITIVE: Column.BEES,
        Problem.DAYS_NOT_POSITIVE: Column.DAYS,
        Problem.SHARE_NOT_POSSIBLE: Column.CELLS,
    }.get(problem, Column.MITES)


def _around(rows: Sequence[SortedRow]) -> dict[Facts, list[MiteSample]]:
    """Counts that are here of the same colonies and days. One query."""
    if not rows:
        return {}
    undone = ImportedCount.objects.filter(sample=OuterRef("pk"), batch__undone_at=OuterRef("voided_at"))
    samples = MiteSample.objects.filter(
        colony__in={row.colony.pk for row in rows if row.colony},
        sampled_on__in={row.cells.day for row in rows},
    )
    here: dict[Facts, list[MiteSample]] = {}
    for sample in samples.annotate(undone=Exists(undone)).order_by("pk"):
        here.setdefault((sample.colony_id, sample.sampled_on, sample.method), []).append(sample)
    return here


def _facts_day(row: SortedRow) -> Facts:
    colony, cells = row.colony, row.cells
    if colony is None or cells.day is None or cells.method is None:
        raise ValueError("A row with errors makes no count.")
    return (colony.pk, cells.day, cells.method.value)


def _numbers(one: MiteSample | Cells) -> tuple[object, ...]:
    return (one.mites, one.bees, one.board_days, one.cells_counted, one.cells_total)


def _key(row: SortedRow, times_undone: int) -> uuid.UUID:
    cells = row.cells
    facts = [
        *_facts_day(row),
        cells.mites,
        cells.bees,
        cells.board_days.normalize() if cells.board_days is not None else None,
        cells.cells_counted,
        cells.cells_total,
    ]
    if times_undone:
        facts.append(f"again {times_undone}")
    return uuid.uuid5(KEYS, "|".join(str(fact) for fact in facts))
