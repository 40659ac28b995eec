"""Brings a sheet's counts in: what each row says, what is odd about it, and all of them kept or none.

A row is *ready*, *needs a look* (nothing is wrong, but somebody must say so), *error*, or *already here*. Yards and
colonies are found, never made. A blank is "not counted" and never 0.
"""

import datetime as dt
import re
import uuid
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from apiaries.models import Colony, Person, Yard
from counts.actions import NewCount, record_samples, yards_on
from counts.asking import asks_about, asks_about_end, asks_about_start, problems_with
from counts.import_cells import Cells, Options, cells_of
from counts.models import MiteSample
from counts.samples import Kind, kind_of
from counts.sentences import PROBLEM_SENTENCES
from counts.sheets import Sheet, SheetRow

KEYS = uuid.UUID("7e0f6a52-4f0c-5d0b-9c8e-2b6d4c1a9f30")
"""Entry keys of imported counts are made from this and the facts of the row: the same row twice is one count."""
_PREFIX = re.compile(r"^(?:colony|hive|no\.?|nr\.?|#)\s*", re.IGNORECASE)

NOT_COUNTED = "No mites entered: taken as not counted. Enter 0 if none were found."
TREATED = "Was a treatment in the hive while the board lay? The sheet does not say."


class Status(StrEnum):
    """What becomes of a row."""

    READY = "ready"
    LOOK = "needs a look"
    ERROR = "error"
    HERE = "already here"


@dataclass(slots=True)
class ImportRow:
    """One line of the sheet, with the count it makes (if it makes one) and (column, sentence) pairs of reasons."""

    number: int
    cells: Cells
    count: NewCount | None = None
    status: Status = Status.READY
    reasons: list[tuple[str, str]] = field(default_factory=list)

    def becomes(self, status: Status, reasons: Iterable[tuple[str, str]]) -> None:
        """Give it a status with reasons, if there are any."""
        if found := list(reasons):
            self.status = status
            self.reasons += found


def understand(sheet: Sheet, *, keeper: Person, by: Person, options: Options) -> list[ImportRow]:
    """All rows in order, each with its status. Nothing is written; the number of queries does not grow with rows."""
    rows = [ImportRow(row.number, cells_of(row, options)) for row in sheet.rows]
    places = _Places(keeper, by, options.today)
    places.find(rows, sheet.rows)
    for row in rows:
        row.becomes(Status.ERROR, row.cells.problems)
        if row.status is Status.READY and row.cells.mites is None:
            row.becomes(Status.LOOK, [("mites", NOT_COUNTED)])
        elif row.status is Status.READY:
            row.count = _count(row.cells, places.colony_of[row.number])
            row.becomes(Status.ERROR, [("mites", PROBLEM_SENTENCES[one]) for one in problems_with(row.count)])
    _mark_those_here(rows)
    return rows


def import_rows(
    rows: Sequence[ImportRow], *, at: dt.datetime, by: Person, with_looks: bool = False
) -> list[MiteSample]:
    """Keep every ready row in one transaction; `with_looks` also those that need a look and make a count."""
    wanted = {Status.READY, Status.LOOK} if with_looks else {Status.READY}
    counts = [row.count for row in rows if row.count is not None and row.status in wanted]
    return record_samples(counts=counts, at=at, by=by) if counts else []


class _Places:
    """Finds the colony of each row: the one of that name that stood in that yard on that day."""

    def __init__(self, keeper: Person, by: Person, today: dt.date) -> None:
        self.today = today
        self.yards: dict[str, list[Yard]] = defaultdict(list)
        for yard in Yard.objects.filter(keeper=keeper).select_related("club").order_by("closed_on", "pk"):
            self.yards[yard.name.lower()].append(yard)
        self.allowed = set(Yard.objects.recordable_by(by).filter(keeper=keeper).values_list("pk", flat=True))
        self.colonies: dict[str, list[Colony]] = defaultdict(list)
        for colony in Colony.objects.filter(yard__keeper=keeper).select_related("yard"):
            self.colonies[colony.name.lower()].append(colony)
        self.colony_of: dict[int, Colony] = {}

    def find(self, rows: Sequence[ImportRow], sheet_rows: Sequence[SheetRow]) -> None:
        """Fill `colony_of` by row number, or say in the row why there is none."""
        asked = [(row, raw, self._named(raw)) for row, raw in zip(rows, sheet_rows, strict=True)]
        pairs = [(colony, row.cells.day or self.today) for row, _, found in asked for colony in found]
        stood = iter(yards_on(pairs))
        for row, raw, found in asked:
            there = [(colony, next(stood)) for colony in found]
            self._choose(row, raw, there)

    def _named(self, raw: SheetRow) -> list[Colony]:
        name = raw.get("colony").lower()
        return self.colonies.get(name) or self.colonies.get(_PREFIX.sub("", name), [])

    def _choose(self, row: ImportRow, raw: SheetRow, there: list[tuple[Colony, Yard]]) -> None:
        yard = self._yard(row, raw)
        if yard is None:
            return
        name, day = raw.get("colony"), row.cells.day or self.today
        if not name:
            row.cells.wrong("colony", "The colony is missing.")
            return
        here = [colony for colony, place in there if place.pk == yard.pk]
        living = [
            one
            for one in here
            if (one.known_start is None or one.known_start <= day)
            and (one.ended_on is None or day <= one.ended_on)
        ]
        chosen = living or [one for one in here if one.ended_on is None] or here
        if not chosen:
            row.cells.wrong(
                "colony", f"No colony {name} stood in {yard.name} on that day. Add it there first."
            )
        elif len(chosen) > 1:
            row.cells.wrong("colony", f"More than one colony {name} is known in {yard.name}.")
        else:
            self.colony_of[row.number] = chosen[0]

    def _yard(self, row: ImportRow, raw: SheetRow) -> Yard | None:
        name = raw.get("yard")
        open_ones = [yard for yards in self.yards.values() for yard in yards if yard.closed_on is None]
        only = not name and len(open_ones) == 1
        found = open_ones if only else self.yards.get(name.lower(), [])
        if not name and not found:
            row.cells.wrong("yard", "The yard is missing, and the keeper has more than one or none.")
        elif not found:
            row.cells.wrong("yard", f"The keeper has no yard called {name}. Set it up first.")
        elif found[0].pk not in self.allowed:
            row.cells.wrong("yard", f"Whoever imports may not log counts in {found[0].name}.")
        else:
            return found[0]
        return None


def _count(cells: Cells, colony: Colony) -> NewCount:
    """The count of a row without problems."""
    if cells.method is None or cells.day is None or cells.mites is None:
        raise ValueError("A row with problems makes no count.")
    facts = (
        colony.pk,
        cells.day,
        cells.method.value,
        cells.mites,
        cells.bees,
        cells.board_days.normalize() if cells.board_days is not None else None,
        cells.cells_counted,
        cells.cells_total,
    )
    return NewCount(
        colony=colony,
        method=cells.method,
        sampled_on=cells.day,
        mites=cells.mites,
        bees=cells.bees,
        bees_by=cells.bees_by,
        board_days=cells.board_days,
        cells_counted=cells.cells_counted,
        cells_total=cells.cells_total,
        treatment_in_hive=bool(cells.treated),
        note=cells.note,
        there_then=True,  # an early day is asked about: who imports the row all the same has answered
        entry_key=uuid.uuid5(KEYS, "|".join(str(fact) for fact in facts)),
    )


def _mark_those_here(rows: Sequence[ImportRow]) -> None:
    """Mark rows that are here already (voided ones too: what was struck out stays out), then ask about the rest."""
    made = [(row, row.count) for row in rows if row.count is not None and row.status is Status.READY]
    here: dict[tuple[int, dt.date, str], list[MiteSample]] = defaultdict(list)
    days = {count.sampled_on for _, count in made}
    colonies = {count.colony.pk for _, count in made}
    for sample in MiteSample.objects.filter(colony__in=colonies, sampled_on__in=days).order_by("pk"):
        here[(sample.colony_id, sample.sampled_on, sample.method)].append(sample)
    seen: dict[uuid.UUID, int] = {}
    for row, count in made:
        same_day = here[(count.colony.pk, count.sampled_on, count.method.value)]
        if any((sample.mites, sample.bees) == (count.mites, count.bees) for sample in same_day):
            row.becomes(Status.HERE, [("", "This count is here already.")])
        elif count.entry_key in seen:
            row.becomes(Status.HERE, [("", f"The same as row {seen[count.entry_key]}.")])
        else:
            seen[count.entry_key] = row.number
            standing = [sample for sample in same_day if sample.voided_at is None]
            row.becomes(Status.LOOK, [("", words) for words in _questions(row, count, standing)])


def _questions(row: ImportRow, count: NewCount, standing: list[MiteSample]) -> list[str]:
    asked = asks_about(count, standing) + asks_about_start([count.colony], count.sampled_on)
    asked += asks_about_end([count.colony], count.sampled_on)
    if kind_of(count.method) is Kind.BOARD and row.cells.treated is None:
        asked.append(TREATED)
    return asked
