"""What the pages show of a sheet and its rows, in few queries."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import connection

from apiaries.language import listed, mark, say, say_as, say_many
from counts.imports.columns import Column
from counts.imports.reasons import Kind, reason_from, sentence_of, short_of
from counts.models import ImportBatch, ImportRow, ImportState, ImportWork, MiteSample, RowStatus
from counts.presenters import raw_words

COLUMN_WORDS: dict[Column, str] = {
    Column.YARD: mark("yard"),
    Column.COLONY: mark("colony"),
    Column.DATE: mark("date of the count"),
    Column.METHOD: mark("method"),
    Column.MITES: mark("mites found"),
    Column.PERCENT: mark("mites per 100 bees (%)"),
    Column.DROP: mark("mites on a board"),
    Column.PER_DAY: mark("drop per day of a board"),
    Column.BEES: mark("number of bees"),
    Column.VOLUME: mark("bees in ml"),
    Column.WEIGHT: mark("bees in grams"),
    Column.DAYS: mark("days of a board"),
    Column.CELLS: mark("cells counted"),
    Column.CELLS_TOTAL: mark("all cells of the board"),
    Column.TREATED: mark("treatment in the hive: yes or no"),
    Column.BROOD: mark("brood"),
    Column.NOTE: mark("note"),
}
ASKED_ABOUT_SHEET = frozenset(
    {
        Kind.DAY_TWO_MEANINGS, Kind.METHOD_MISSING, Kind.METHOD_UNKNOWN, Kind.BEES_MISSING, Kind.YARD_MISSING,
        Kind.YARD_UNKNOWN, Kind.YARD_TWICE, Kind.TREATED_UNKNOWN,
    }
)  # fmt: skip
"""Kinds of reason that one answer for the whole sheet may settle."""
SHAPES = {
    RowStatus.READY: "done",
    RowStatus.LOOK: "find_out",
    RowStatus.ERROR: "in_the_way",
    RowStatus.HERE: "skipped",
}


@dataclass(frozen=True, slots=True)
class ShownRow:
    """A row as it was understood."""

    row: ImportRow
    status: str
    shape: str
    counted: str
    reasons: Sequence[tuple[str, str]]
    agreed: bool
    may_agree: bool

    @property
    def as_it_stands(self) -> str:
        """The cells of the file, those that are filled."""
        return " | ".join(cell for cell in self.row.cells if cell)


@dataclass(frozen=True, slots=True)
class ShownKind:
    """One kind of reason: its words, on how many rows, how many of these are still open; and what can be done."""

    kind: str
    status: str
    words: str
    rows: int
    open: int
    may_agree: bool
    whole_sheet: bool


def counted_words(row: ImportRow) -> str:
    """What was counted, with its units; what is not known of it is said."""
    if row.mites is None:
        return say("not counted") if Kind.NOT_COUNTED in row.kinds else say("not understood")
    if row.entry_key is None and row.status != RowStatus.HERE:
        return say("{mites} mites, the rest not understood", mites=row.mites)
    names = ("method", "mites", "bees", "bees_by", "board_days", "cells_counted", "cells_total")
    return raw_words(MiteSample(**{name: getattr(row, name) for name in names}))


def shown(rows: Iterable[ImportRow]) -> list[ShownRow]:
    """The rows with their words."""
    told = []
    for row in rows:
        reasons = [reason_from(one) for one in row.reasons]
        words = [(_column_words(one.column), sentence_of(one)) for one in reasons]
        look = row.status == RowStatus.LOOK and row.entry_key is not None
        agreed = look and not row.open
        status = say("agreed") if agreed else str(row.get_status_display())
        shape = "done" if agreed else SHAPES[RowStatus(row.status)]
        told.append(ShownRow(row, status, shape, counted_words(row), words, agreed, look and bool(row.open)))
    return told


def kinds_of(batch: ImportBatch) -> list[ShownKind]:
    """The kinds of reason in the sheet, with how many rows each is about; errors first. One query."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT kind, status, count(*), count(*) FILTER (WHERE kind = ANY(open)), bool_or(entry_key IS NOT NULL)"
            "  FROM counts_importrow, unnest(kinds) AS kind WHERE batch_id = %s AND status IN ('error', 'look')"
            " GROUP BY kind, status ORDER BY status, count(*) DESC, kind",
            [batch.pk],
        )
        return [
            ShownKind(
                kind=kind,
                status=status,
                words=short_of(kind),
                rows=rows,
                open=still,
                may_agree=status == RowStatus.LOOK and made and still > 0,
                whole_sheet=kind in ASKED_ABOUT_SHEET,
            )
            for kind, status, rows, still, made in cursor.fetchall()
        ]


def texts_of(batch: ImportBatch, kind: Kind, most: int = 30) -> list[str]:
    """Different texts that rows of a kind have, the most frequent first."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT min(reason->2->>'text') FROM counts_importrow, jsonb_array_elements(reasons) AS reason"
            " WHERE batch_id = %s AND %s = ANY(kinds) AND reason->>1 = %s"
            " GROUP BY lower(reason->2->>'text') ORDER BY count(*) DESC, 1 LIMIT %s",
            [batch.pk, kind.value, kind.value, most],
        )
        return [text for (text,) in cursor.fetchall() if text]


def taken_for_words(batch: ImportBatch) -> list[tuple[str, str]]:
    """What the file was taken for: pairs of what and which."""
    taken = batch.taken_for
    if not taken:
        return []
    told = [(say("Rows below the headings"), f"{taken['row_count']}")]
    if taken.get("left_out"):
        told.append((say("Rows left out, as you said"), f"{taken['left_out']}"))
    if taken["kind"] == "xlsx":
        told.append((say("Sheet of the workbook"), str(taken["sheet"])))
    else:
        told.append((say("Encoding"), str(taken["encoding"])))
        told.append((say("Columns are parted by"), delimiter_words(str(taken["delimiter"]))))
    told.append((say("Row of the headings"), str(taken["header_row"])))
    return told


def delimiter_words(delimiter: str) -> str:
    """comma, for ","."""
    return {
        ",": say_as("sign between columns", "comma"),
        ";": say_as("sign between columns", "semicolon"),
        "\t": say_as("sign between columns", "tab"),
        "|": say_as("sign between columns", "bar"),
    }.get(delimiter, delimiter)


def notes_about(batch: ImportBatch) -> list[str]:
    """What to know about how the file was read."""
    taken = batch.taken_for
    if not taken:
        return []
    notes = []
    if others := [name for name in taken["sheets"] if name != taken["sheet"]]:
        notes.append(
            say_many(
                "This workbook has {n} more sheet: {names}. Only {sheet} is read.",
                "This workbook has {n} more sheets: {names}. Only {sheet} is read.",
                len(others),
                names=listed(others),
                sheet=taken["sheet"],
            )
        )
    if taken["merged"]:
        notes.append(
            say(
                "Cells are merged in this sheet: only the first cell of each has its value, the others are blank."
            )
        )
    if taken["formulas"]:
        notes.append(say("Some cells hold a formula without a result. They are taken as blank."))
    if taken.get("order") == "day_first" and not batch.choices.get("order"):
        notes.append(say("In dates such as 03/04/26 the day comes first: other dates of the sheet show it."))
    if taken.get("order") == "month_first" and not batch.choices.get("order"):
        notes.append(
            say("In dates such as 03/04/26 the month comes first: other dates of the sheet show it.")
        )
    return notes


def headings_of(batch: ImportBatch) -> list[tuple[str, str]]:
    """Pairs of a heading and what it was taken for; empty where it is left aside."""
    columns = batch.taken_for.get("columns", {})
    told = []
    for at, heading in enumerate(batch.taken_for.get("headings", [])):
        if heading.strip() or str(at) in columns:
            name, bees = columns.get(str(at), (None, None))
            words = say(COLUMN_WORDS[Column(name)]) if name else ""
            told.append((heading, say("mites found in {bees} bees", bees=bees) if bees else words))
    return told


def progress_of(batch: ImportBatch) -> dict[str, Any]:
    """How far the reading is: rows done and in all, for a bar and for words."""
    # Not `batch.work`: the file itself is in that row.
    work = ImportWork.objects.filter(pk=batch.pk, batch__state=ImportState.READING)
    done, total = work.values_list("rows_done", "rows_total").first() or (0, 0)
    return {"done": done, "total": total}


def _column_words(column: str) -> str:
    return say(COLUMN_WORDS[Column(column)]) if column else ""
