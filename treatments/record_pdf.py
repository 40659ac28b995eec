"""A medicine record on paper."""

import datetime as dt
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from apiaries.paper import Paper, set_pdf
from apiaries.templatetags.recount_words import day_and_time
from treatments.record_changes import Change
from treatments.record_facts import Fact, bill_facts, given_facts, kept_facts, voided_words
from treatments.record_lines import KeptLine, MedicineRecord, UseLine

TEMPLATE = Path(__file__).resolve().parent / "sheets" / "medicine_record.typ"
NOTE = (
    "What is marked as missing follows the rules of the club's country as far as they could be read; your own "
    "country decides. Work on the brood is no medicine and is not listed."
)
GIVEN_COLUMNS = {
    "Days": ("Given",),
    "Yard and colonies": ("Yard and colonies",),
    "Medicine": ("Product", "Batch number", "Registration number", "Ingredient, how given"),
    "Quantity": ("Quantity",),
    "Bought from": ("Supplier", "Supplier's address", "Proof of purchase", "Veterinarian"),
    "Withdrawal": ("Withdrawal period", "Clear date"),
    "Given and recorded by": ("Given by", "Recorded by", "How long to keep", "Note"),
}
PURCHASE_COLUMNS = {
    "Bought on": ("Bought on",),
    "Medicine": ("Product", "Batch number", "Use by"),
    "Quantity": ("Quantity",),
    "Bought from": ("Supplier", "Supplier's address", "Proof of purchase"),
    "Withdrawal": ("Withdrawal period",),
    "Recorded by": ("Recorded by", "Note"),
}
DISPOSAL_COLUMNS = {
    "Disposed of on": ("Disposed of on",),
    "Medicine": ("Product", "Batch number"),
    "Quantity": ("Quantity",),
    "How and where": ("How", "Where"),
    "Recorded by": ("Recorded by", "Note"),
}
# Shares of the width; our choice.
GIVEN_WIDTHS, PURCHASE_WIDTHS, DISPOSAL_WIDTHS = (4, 4, 5, 6, 5, 4, 5), (3, 5, 3, 6, 3, 5), (3, 5, 3, 6, 5)
Columns = dict[str, tuple[str, ...]]


def record_pdf(record: MedicineRecord, *, paper: Paper, as_of: dt.datetime) -> bytes:
    """The sheet as a PDF."""
    return set_pdf(TEMPLATE, sheet_data(record, as_of=as_of), paper=paper)


def sheet_data(record: MedicineRecord, *, as_of: dt.datetime) -> dict[str, Any]:
    """What the template is given: plain texts, nothing to be read as its language."""
    tables = [_table("Medicines given", "None.", GIVEN_COLUMNS, GIVEN_WIDTHS, map(_use_row, record.uses))]
    if record.sees_purchases:
        bought, gone = map(_kept_row, record.purchases), map(_kept_row, record.disposals)
        tables += [
            _table("Purchases", "None.", PURCHASE_COLUMNS, PURCHASE_WIDTHS, bought),
            _table("Disposals", "None.", DISPOSAL_COLUMNS, DISPOSAL_WIDTHS, gone),
        ]
    yard = record.yard.name if record.yard else "all yards"
    whose = f"{record.keeper.name}, {record.year or 'all years'}, {yard}"
    lack = record.missing_anything
    return {
        "title": "Medicine record",
        "foot": f"Medicine record, {whose}. As of {day_and_time(as_of)}.",
        "lead": [f"{whose}.", *filter(None, [record.kept_words]), _lack_words(lack)],
        "tables": tables,
        "notes": [NOTE],
    }


def _lack_words(number: int) -> str:
    if number == 0:
        return "Nothing that is asked for is missing."
    return f"{number} {'entry still lacks' if number == 1 else 'entries still lack'} something."


Row = tuple[Sequence[Fact], bool, list[dict[str, Any]]]


def _use_row(line: UseLine) -> Row:
    below = [_line("", text) for text in (voided_words(line), _missing(line)) if text]
    return (
        (*given_facts(line), *bill_facts(line)),
        line.voided is not None,
        below + [part for one in line.changes for part in _change(one)],
    )


def _kept_row(line: KeptLine) -> Row:
    below = [_line("", text) for text in (voided_words(line), _missing(line)) if text]
    return kept_facts(line), line.voided is not None, below


def _missing(line: UseLine | KeptLine) -> str:
    return f"{line.missing_words}." if line.missing and line.voided is None else ""


def _change(one: Change) -> list[dict[str, Any]]:
    why = f"; {one.why}" if one.why else ""
    was = [_line(one.field, one.old, struck=True)] if one.old else []
    verb = "changed to" if one.old else "filled in"
    now = f"{one.new or 'nothing'}, by {one.by or 'somebody'}, {day_and_time(one.at)}{why}"
    return [*was, _line(f"{one.field} {verb}", now)]


def _line(label: str, words: str, *, struck: bool = False, missing: bool = False) -> dict[str, Any]:
    return {"label": label, "words": words, "struck": struck, "missing": missing}


def _table(
    title: str, none: str, columns: Columns, widths: Sequence[int], rows: Iterable[Row]
) -> dict[str, Any]:
    return {
        "title": title,
        "none": none,
        "columns": list(columns),
        "widths": list(widths),
        "rows": [
            {"cells": [_cell(names, facts, struck) for names in columns.values()], "below": below}
            for facts, struck, below in rows
        ],
    }


def _cell(names: tuple[str, ...], facts: Sequence[Fact], struck: bool) -> list[dict[str, Any]]:
    """The facts of one cell; the first needs no label where the column has its name."""
    return [
        _line("" if len(names) == 1 else fact.label, words, struck=struck, missing=fact.is_missing)
        for name in names
        for fact in facts
        if fact.label == name
        for words in fact.lines
    ]
