"""Rows of a sheet on their way in: into the table where they are looked at, and from there among the counts.

One COPY and one INSERT: 100,000 rows take seconds, and a kill in the middle leaves nothing half-way.
"""

import datetime as dt
import json
from collections.abc import Iterable, Mapping

from django.db import connection
from psycopg.types.json import Jsonb

from apiaries.models import Brood
from counts.estimate import Estimate
from counts.imports.reasons import Kind, Status
from counts.imports.sorting import SortedRow
from counts.models import EstimateBasis, ImportBatch
from counts.samples import Kind as MethodKind
from counts.samples import kind_of

COLUMNS = (
    "batch_id", "number", "status", "cells", "reasons", "kinds", "open", "colony_id", "yard_id", "method",
    "sampled_on", "mites", "bees", "bees_by", "board_days", "cells_counted", "cells_total", "treatment_in_hive",
    "brood", "note", "rate", "low", "high", "exposure", "squared_cv", "refusal", "basis_id", "entry_key",
)  # fmt: skip

_FACTS = (
    "colony_id, yard_id, method, sampled_on, mites, bees, bees_by, board_days, cells_counted, cells_total, "
    "treatment_in_hive, brood, note, rate, low, high, exposure, squared_cv, refusal, basis_id, entry_key"
)

NUMBERS = {"ready": Status.READY, "look": Status.LOOK, "errors": Status.ERROR, "here": Status.HERE}
"""The fields of a batch that say how many of its rows are what."""

WANTED = "r.batch_id = %s AND r.entry_key IS NOT NULL AND (r.status = 'ready' OR r.status = 'look' AND r.open = '{}')"
"""Rows that make a count: the ready ones, and those whose every question somebody agreed to."""

_NOW_HERE = f"""
UPDATE counts_importrow r SET status = 'here', reasons = %s::jsonb, kinds = %s, open = '{{}}'
 WHERE {WANTED} AND EXISTS (
   SELECT FROM counts_mitesample s
    WHERE s.colony_id = r.colony_id AND s.sampled_on = r.sampled_on AND s.method = r.method AND s.mites = r.mites
      AND s.bees IS NOT DISTINCT FROM r.bees AND s.board_days IS NOT DISTINCT FROM r.board_days
      AND s.cells_counted IS NOT DISTINCT FROM r.cells_counted AND s.cells_total IS NOT DISTINCT FROM r.cells_total
      AND NOT EXISTS (
        SELECT FROM counts_importedcount i JOIN counts_importbatch b ON b.id = i.batch_id
         WHERE i.sample_id = s.id AND b.undone_at = s.voided_at))
"""  # noqa: S608  (names of our own)

_BESIDE = f"""
SELECT EXISTS (
  SELECT FROM counts_importrow r JOIN counts_mitesample s USING (colony_id, sampled_on, method)
   WHERE {WANTED} AND NOT %s = ANY(r.kinds) AND s.voided_at IS NULL)
"""  # noqa: S608

_INSERT = f"""
WITH new AS (
  INSERT INTO counts_mitesample ({_FACTS}, recorded_at, recorded_by_id, voided_why)
  SELECT {_FACTS}, %s, %s, '' FROM counts_importrow r WHERE {WANTED} ORDER BY r.number
  ON CONFLICT (entry_key) DO NOTHING
  RETURNING id
)
INSERT INTO counts_importedcount (batch_id, sample_id) SELECT %s, id FROM new
"""  # noqa: S608


def stage(
    batch: ImportBatch,
    rows: Iterable[SortedRow],
    cells: Mapping[int, tuple[str | None, ...]],
    basis: EstimateBasis,
) -> None:
    """Put sorted rows where they are looked at; `cells` as they stand in the file, by the row's number."""
    with (
        connection.cursor() as cursor,
        cursor.copy(f"COPY counts_importrow ({', '.join(COLUMNS)}) FROM STDIN") as copy,
    ):
        for row in rows:
            copy.write_row(_values(batch.pk, row, cells[row.number], basis.pk))


def _values(batch: int, row: SortedRow, cells: tuple[str | None, ...], basis: int) -> tuple[object, ...]:
    said = row.cells
    kinds = [str(one.kind) for one in row.reasons]
    board = said.method is not None and kind_of(said.method) is MethodKind.BOARD
    # Days that no board can have are told in the reason; the column would not hold them.
    days = said.board_days if said.board_days is not None and 0 < said.board_days < 100 else None
    return (
        batch, row.number, row.status.value, list(cells), Jsonb([one.stored() for one in row.reasons]), kinds,
        kinds if row.status is Status.LOOK else [], row.colony.pk if row.colony else None,
        row.yard.pk if row.yard else None, said.method.value if said.method else "", said.day, said.mites, said.bees,
        said.bees_by.value if said.bees_by else "", days, said.cells_counted, said.cells_total,
        bool(said.treated) and board, said.brood or Brood.UNKNOWN.value, said.note.strip(),
        *_rated(row.estimate, basis), row.entry_key,
    )  # fmt: skip


def _rated(estimate: Estimate | None, basis: int) -> tuple[object, ...]:
    """rate, low, high, exposure, squared_cv, refusal, basis: as `counts.actions` keeps an estimate."""
    if estimate is None:
        return (None, None, None, None, None, "", None)
    if estimate.rate is None:
        return (None, None, None, None, None, estimate.reason or "", basis)
    return (
        estimate.rate, estimate.low, estimate.high, estimate.exposure, estimate.c2, estimate.reason or "", basis,
    )  # fmt: skip


def mark_now_here(batch: ImportBatch) -> dict[str, int]:
    """Rows whose count came in by another way since they were looked at are here already; how many rows are what now.

    By the names of the batch's fields, which the caller saves.
    """
    with connection.cursor() as cursor:
        cursor.execute(_NOW_HERE, [json.dumps([["", Kind.HERE.value, {}]]), [Kind.HERE.value], batch.pk])
        cursor.execute(
            "SELECT status, count(*) FROM counts_importrow WHERE batch_id = %s GROUP BY 1", [batch.pk]
        )
        found = dict(cursor.fetchall())
    return {name: found.get(status.value, 0) for name, status in NUMBERS.items()}


def count_beside(batch: ImportBatch) -> bool:
    """Whether another count of a wanted row's colony, day and method stands, and nobody was asked about it."""
    with connection.cursor() as cursor:
        cursor.execute(_BESIDE, [batch.pk, Kind.SAME_DAY.value])
        (found,) = cursor.fetchone()
    return bool(found)


def insert_counts(batch: ImportBatch, at: dt.datetime) -> None:
    """Make the counts of all wanted rows, each named as brought in by the batch."""
    with connection.cursor() as cursor:
        cursor.execute(_INSERT, [at, batch.by_id, batch.pk, batch.pk])
