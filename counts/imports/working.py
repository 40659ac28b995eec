"""Reading a sheet and sorting its rows: at once for a small one, else by whichever worker comes to it.

The database knows what is to be done. Who works on a batch says every few thousand rows that it is alive; if it does
not, another begins anew, so that a kill costs time and nothing else. What is written here is no fact yet.
"""

import datetime as dt
import tempfile
import uuid
from collections.abc import Iterator
from decimal import Decimal
from itertools import islice
from pathlib import Path
from typing import Any

from django.db import transaction
from django.db.models import F, Q
from django.db.models.functions import Now

from apiaries.models import Club
from apiaries.views.asking import today_in
from counts.adding import basis_for
from counts.constants import DEFAULTS
from counts.imports.columns import CLEAR, VAGUE, Column, Matched, Meaning, match
from counts.imports.days import SERIAL_START, SERIAL_START_1904, DayOrder, orders_shown
from counts.imports.places import Places
from counts.imports.reasons import Status
from counts.imports.refusing import CHANGED
from counts.imports.rows import Options, any_filled, row_of
from counts.imports.said import Said, said_in
from counts.imports.sorting import Sorter
from counts.imports.staging import NUMBERS, stage
from counts.measuring import HALF_CUP
from counts.models import ImportBatch, ImportRow, ImportState, ImportWork, KnownHeading
from counts.reference import measures
from counts.tables import CannotRead, Choices, Table, read_table

ROWS_AT_ONCE, BYTES_AT_ONCE = 2_000, 512 * 1024
"""A sheet up to this size is read while its sender waits; a larger one in the background (our choice)."""
PORTION = 4_000
HELD_FOR = dt.timedelta(seconds=120)
"""An attempt that was silent for so long has died: reading the file itself takes up to a minute."""
MOST_ATTEMPTS = 3


class TakenOver(Exception):  # noqa: N818  (nothing is wrong: somebody else does it)
    """Another attempt works on the batch, or it is no longer to be read."""


def read_batch(batch: ImportBatch, *, at_once: bool = False, table: Table | None = None) -> bool:
    """Read the batch's file and sort its rows; whether that is done now. `at_once`: only if it is small.

    `table`: the file, where it was read before; it is closed afterwards. False where somebody else is at it, or where
    it is too big to be done at once.
    """
    if at_once and batch.size > BYTES_AT_ONCE:
        return False
    key = _hold(batch)
    if key is None:
        return False
    try:
        with table or _table(batch) as opened:
            matched = match(opened.headings, remembered(batch.club))
            asks = bool(matched.unclear) and said_in(batch.choices).columns is None
            if at_once and opened.row_count > ROWS_AT_ONCE and not asks:
                _let_go(batch, key)
                return False
            _sort(batch, opened, matched, key, asks=asks)
    except CannotRead as error:
        refusal = {"code": error.code, "values": dict(error.values)}
        _end(batch, key, state=ImportState.FAILED, refusal=refusal)
    except TakenOver:
        return False
    batch.refresh_from_db()
    return True


def to_read(at: dt.datetime) -> Iterator[ImportBatch]:
    """Batches that nobody reads at present, the oldest first; those tried too often are given up."""
    silent = Q(work__held_by=None) | Q(work__seen_at__lt=at - HELD_FOR)
    waiting = ImportBatch.objects.filter(silent, state=ImportState.READING).order_by("at", "pk")
    for batch in waiting.annotate(tried=F("work__attempts"))[:100]:
        if batch.tried >= MOST_ATTEMPTS:
            refusal = {"code": "failed", "values": {}}
            ImportBatch.objects.filter(pk=batch.pk, state=ImportState.READING).update(
                state=ImportState.FAILED, refusal=refusal
            )
        else:
            yield batch


def remembered(club: Club) -> dict[str, Meaning | None]:
    """What the club said its headings mean."""
    return {
        one.heading: Meaning(Column(one.column), one.bees) if one.column else None
        for one in KnownHeading.objects.filter(club=club)
    }


def bees_of_measure(key: str | None, club: Club) -> int | None:
    """Bees of a measure by its key; `half_cup` is the club's own number. KeyError for another key."""
    if not key:
        return None
    return {HALF_CUP: club.bees_per_half_cup, **{one["key"]: one["bees"] for one in measures()}}[key]


def measure_keys() -> list[str]:
    """The keys that `bees_of_measure` knows."""
    return [HALF_CUP, *(one["key"] for one in measures())]


def options_of(batch: ImportBatch, said: Said, order: DayOrder | None) -> Options:
    """What was said about the sheet, as its rows need it."""
    known = {one["key"]: one["bees"] for one in measures()}
    return Options(
        today=today_in(batch.club),
        order=order,
        serial_start=SERIAL_START_1904 if batch.taken_for.get("since_1904") else SERIAL_START,
        method=said.method,
        measure=bees_of_measure(said.measure, batch.club),
        method_words=said.method_words,
        treated=said.treated,
        bees_per_100_ml=known["ml_100"],
        bees_per_gram=Decimal(known["grams_25"]) / 25,
    )


def _sort(batch: ImportBatch, table: Table, matched: Matched, key: uuid.UUID, *, asks: bool) -> None:
    said = said_in(batch.choices)
    meanings = said.columns if said.columns is not None else matched.meanings
    order, order_open = (None, False) if asks else _order(batch, table, meanings, said)
    _taken_for(batch, table, matched, meanings, order=order, order_open=order_open)
    with transaction.atomic():
        # Only who still holds the batch: a late attempt must not take its successor's rows away.
        _alive(batch, key, done=0, total=table.row_count)
        ImportRow.objects.filter(batch=batch).delete()
    numbers, left_out = dict.fromkeys(Status, 0), 0
    places = Places(batch.by, batch.keeper, said, today_in(batch.club))
    if not asks:
        named = any_filled((row.cells for row in table.rows()), meanings, Column.YARD)
        sorter, basis = Sorter(places, options_of(batch, said, order), yards_named=named), basis_for(DEFAULTS)
        rows = table.rows()
        while portion := list(islice(rows, PORTION)):
            meant = [row_of(row.n, row.cells, meanings) for row in portion]
            told = sorter.sort(meant)
            left_out += sum(places.left_out(row) for row in meant)
            for one in told:
                numbers[one.status] += 1
            with transaction.atomic():
                _alive(batch, key, done=len(portion), total=table.row_count)
                stage(batch, told, {row.n: row.cells for row in portion}, basis)
    changed = batch.refusal if batch.refusal and batch.refusal["code"] == CHANGED else None
    _end(
        batch,
        key,
        state=ImportState.LOOK,
        taken_for=batch.taken_for | {"left_out": left_out},
        world=places.world(),
        refusal=changed,
        **{name: numbers[status] for name, status in NUMBERS.items()},
    )


def _order(batch: ImportBatch, table: Table, meanings: Any, said: Said) -> tuple[DayOrder | None, bool]:
    """Which number of 03/04/26 is the day: as was said, or as other days of the sheet show; and whether to ask."""
    place = next((at for at, meaning in meanings.items() if meaning.column is Column.DATE), None)
    if place is None:
        return said.order, False
    texts = (row.cells[place] or "" for row in table.rows() if place < len(row.cells))
    shown, open_ones = orders_shown(texts, today_in(batch.club))
    only = next(iter(shown)) if len(shown) == 1 else None
    return said.order or only, open_ones and only is None


def _taken_for(
    batch: ImportBatch,
    table: Table,
    matched: Matched,
    meanings: Any,
    *,
    order: DayOrder | None,
    order_open: bool,
) -> None:
    batch.taken_for = {
        name: getattr(table, name)
        for name in (
            "kind",
            "sheet",
            "encoding",
            "delimiter",
            "header_row",
            "row_count",
            "merged",
            "formulas",
        )
    } | {
        "since_1904": table.since_1904,
        "sheets": list(table.sheets),
        "headings": list(table.headings),
        "columns": {str(at): [one.column.value, one.bees] for at, one in meanings.items()},
        "unclear": [[one.column.value, list(one.places)] for one in matched.unclear],
        "order": order.value if order else None,
        "order_open": order_open,
        "samples": _samples(table),
    }


def _samples(table: Table) -> list[list[str]]:
    """The first filled cells of each column, for the page on which its meaning is chosen."""
    found: list[list[str]] = [[] for _ in table.headings]
    for row in islice(table.rows(), 50):
        for place, text in enumerate(row.cells):
            if text and place < len(found) and len(found[place]) < 3:
                found[place].append(text[:60])
    return found


def _table(batch: ImportBatch) -> Table:
    """The file, read as was said. Errors: CannotRead."""
    said = said_in(batch.choices)
    choices = Choices(
        sheet=said.sheet, encoding=said.encoding, delimiter=said.delimiter, header_row=said.header_row
    )
    data = ImportWork.objects.values_list("data", flat=True).get(pk=batch.pk)
    with tempfile.NamedTemporaryFile(prefix="recount-import-") as file:
        file.write(data)
        file.flush()
        return read_table(
            Path(file.name), name=batch.file_name, choices=choices, known=words_known(batch.club)
        )


def words_known(club: Club) -> list[str]:
    """Headings that are known here: they tell which row holds the headings, and which sheet is the one."""
    words = [word for table in (CLEAR, VAGUE) for several in table.values() for word in several.split("|")]
    return words + list(remembered(club))


def _hold(batch: ImportBatch) -> uuid.UUID | None:
    """Take the batch to work on it; None where another attempt is alive, or there is nothing to do."""
    key = uuid.uuid4()
    silent = Q(held_by=None) | Q(seen_at__lt=Now() - HELD_FOR)
    mine = ImportWork.objects.filter(silent, pk=batch.pk, batch__state=ImportState.READING)
    taken = mine.update(held_by=key, seen_at=Now(), attempts=F("attempts") + 1, rows_done=0, rows_total=0)
    return key if taken else None


def _alive(batch: ImportBatch, key: uuid.UUID, *, done: int, total: int) -> None:
    mine = ImportWork.objects.filter(pk=batch.pk, held_by=key)
    if not mine.update(seen_at=Now(), rows_done=F("rows_done") + done, rows_total=total):
        raise TakenOver


def _let_go(batch: ImportBatch, key: uuid.UUID) -> None:
    ImportWork.objects.filter(pk=batch.pk, held_by=key).update(
        held_by=None, seen_at=None, attempts=F("attempts") - 1
    )


@transaction.atomic
def _end(batch: ImportBatch, key: uuid.UUID, **facts: Any) -> None:
    """The reading is over, one way or the other. The batch is held before the work, as the actions do."""
    ImportBatch.objects.select_for_update(no_key=True).get(pk=batch.pk)
    if not ImportWork.objects.filter(pk=batch.pk, held_by=key).update(held_by=None, seen_at=None, attempts=0):
        raise TakenOver
    ImportBatch.objects.filter(pk=batch.pk, state=ImportState.READING).update(**facts)
