"""A medicine record on paper."""

import datetime as dt
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from apiaries.language import mark, say, say_many
from apiaries.paper import Paper, set_pdf
from apiaries.templatetags.recount_words import day_and_time
from treatments import record_facts as facts
from treatments.chain_words import WHAT_FOR, head_words
from treatments.record_changes import Change
from treatments.record_facts import Fact, bill_facts, given_facts, kept_facts, voided_words
from treatments.record_lines import KeptLine, MedicineRecord, UseLine

TEMPLATE = Path(__file__).resolve().parent / "sheets" / "medicine_record.typ"
NOTE = mark(
    "What is marked as missing follows the rules of the club's country as far as they could be read; your own "
    "country decides. Work on the brood is no medicine and is not listed."
)
GIVEN_COLUMNS = {
    mark("Days"): (facts.GIVEN,),
    facts.YARD: (facts.YARD,),
    mark("Medicine"): (facts.PRODUCT, facts.BATCH, facts.REGISTRATION, facts.INGREDIENT),
    facts.QUANTITY: (facts.QUANTITY,),
    mark("Bought from"): (facts.SUPPLIER, facts.ADDRESS, facts.PROOF, facts.VET),
    mark("Withdrawal"): (facts.WITHDRAWAL, facts.CLEAR),
    mark("Given and recorded by"): (facts.GIVEN_BY, facts.RECORDED_BY, facts.KEEP, facts.NOTE),
}
PURCHASE_COLUMNS = {
    facts.BOUGHT_ON: (facts.BOUGHT_ON,),
    mark("Medicine"): (facts.PRODUCT, facts.BATCH, facts.USE_BY),
    facts.QUANTITY: (facts.QUANTITY,),
    mark("Bought from"): (facts.SUPPLIER, facts.ADDRESS, facts.PROOF),
    mark("Withdrawal"): (facts.WITHDRAWAL,),
    facts.RECORDED_BY: (facts.RECORDED_BY, facts.NOTE),
}
DISPOSAL_COLUMNS = {
    facts.DISPOSED_ON: (facts.DISPOSED_ON,),
    mark("Medicine"): (facts.PRODUCT, facts.BATCH),
    facts.QUANTITY: (facts.QUANTITY,),
    mark("How and where"): (facts.HOW, facts.WHERE),
    facts.RECORDED_BY: (facts.RECORDED_BY, facts.NOTE),
}
# Shares of the width; our choice.
GIVEN_WIDTHS, PURCHASE_WIDTHS, DISPOSAL_WIDTHS = (4, 4, 5, 6, 5, 4, 5), (3, 5, 3, 6, 3, 5), (3, 5, 3, 6, 5)
Columns = dict[str, tuple[str, ...]]


def record_pdf(record: MedicineRecord, *, paper: Paper, as_of: dt.datetime) -> bytes:
    """The sheet as a PDF."""
    return set_pdf(TEMPLATE, sheet_data(record, as_of=as_of), paper=paper)


def sheet_data(record: MedicineRecord, *, as_of: dt.datetime) -> dict[str, Any]:
    """What the template is given: plain texts, nothing to be read as its language."""
    none = say("None.")
    tables = [_table(say("Medicines given"), none, GIVEN_COLUMNS, GIVEN_WIDTHS, map(_use_row, record.uses))]
    if record.sees_purchases:
        bought, gone = map(_kept_row, record.purchases), map(_kept_row, record.disposals)
        tables += [
            _table(say("Purchases"), none, PURCHASE_COLUMNS, PURCHASE_WIDTHS, bought),
            _table(say("Disposals"), none, DISPOSAL_COLUMNS, DISPOSAL_WIDTHS, gone),
        ]
    yard = record.yard.name if record.yard else say("all yards")
    year = str(record.year) if record.year else say("all years")
    whose = f"{record.keeper.name}, {year}, {yard}"
    lack = record.missing_anything
    return {
        "title": say("Medicine record"),
        "foot": say("Medicine record, {whose}. As of {at}.", whose=whose, at=day_and_time(as_of)),
        "lead": [f"{whose}.", *filter(None, [record.kept_words]), _lack_words(lack)],
        "tables": tables,
        "notes": [say(NOTE), *_chain_words(record, as_of)],
    }


def _chain_words(record: MedicineRecord, as_of: dt.datetime) -> list[str]:
    words = head_words(record.head, as_of.tzinfo or dt.UTC)
    return [f"{'. '.join(words)}. {say(WHAT_FOR)}"] if words else []


def _lack_words(number: int) -> str:
    if number == 0:
        return say("Nothing that is asked for is missing.")
    return say_many("{n} entry still lacks something.", "{n} entries still lack something.", number)


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
    was = [_line(one.field, one.old, struck=True)] if one.old else []
    became = mark("{field} changed to") if one.old else mark("{field} filled in")
    new, by = one.new or say("nothing"), one.by or say("somebody")
    now = say("{new}, by {name}, {at}", new=new, name=by, at=day_and_time(one.at))
    return [*was, _line(say(became, field=one.field), f"{now}; {one.why}" if one.why else now)]


def _line(label: str, words: str, *, struck: bool = False, missing: bool = False) -> dict[str, Any]:
    return {"label": label, "words": words, "struck": struck, "missing": missing}


def _table(
    title: str, none: str, columns: Columns, widths: Sequence[int], rows: Iterable[Row]
) -> dict[str, Any]:
    return {
        "title": title,
        "none": none,
        "columns": [say(name) for name in columns],
        "widths": list(widths),
        "rows": [
            {"cells": [_cell(names, told, struck) for names in columns.values()], "below": below}
            for told, struck, below in rows
        ],
    }


def _cell(names: tuple[str, ...], told: Sequence[Fact], struck: bool) -> list[dict[str, Any]]:
    """The facts of one cell; the first needs no label where the column has its name."""
    return [
        _line("" if len(names) == 1 else fact.label, words, struck=struck, missing=fact.is_missing)
        for name in names
        for fact in told
        if fact.name == name
        for words in fact.lines
    ]
