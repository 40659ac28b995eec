"""The page "Did it work?": the whole treatment first, then each colony, and why."""

import datetime as dt
import math
from dataclasses import dataclass
from typing import Any

from apiaries.language import figure, mark, say, say_as
from counts.samples import Kind
from treatments._verdicts import Drop, Outcome, Reason, Verdict
from treatments.choosing import Counted, mites_of
from treatments.comparing import ColonyResult, drop_of
from treatments.models import Treatment
from treatments.outcome_standing import standing_after
from treatments.presenters import row_of
from treatments.results import Result, result_of
from treatments.sentences import (
    CONFOUNDERS,
    OF_BEES,
    PICKED_HIGH,
    VERDICT_WORDS,
    note_sentences,
    outcome_sentence,
    per_cent,
    range_words,
    settle_sentence,
    too_early_sentence,
)

KIND_WORDS = {Kind.WASH: mark("washes"), Kind.ROLL: mark("rolls"), Kind.BOARD: mark("boards")}

TOO_LITTLE_ALONE = {
    Reason.FEW_MITES_BEFORE: mark("too few mites in one jar to say"),
    Reason.NO_MITES_BEFORE: mark("no mites before, so no drop can show"),
    Reason.TOO_FEW_TO_SAY_WORKED: mark("too few mites in one jar to say"),
    Reason.RANGE_TOO_WIDE: mark("too few mites in one jar to say"),
    Reason.NO_TARGET: mark("no target is published"),
    Reason.TOO_FEW_BEES: mark("too few bees in a jar to say"),
    Reason.BOARD_TOO_SHORT: mark("a board lay too short to say"),
    Reason.TOO_FAR_APART: mark("the counts are too far apart"),
    Reason.DIFFERENT_METHODS: mark("counted in different ways"),
}
"""Why one colony by itself gets no word."""
TOO_LITTLE_ON_BOARDS = mark("too few mites on one board to say")


@dataclass(frozen=True, slots=True)
class Side:
    """Before or after, in words: mites, in how many bees or days, of how many colonies, on which days."""

    mites: int
    in_what: str
    colonies: int
    first: dt.date
    last: dt.date


@dataclass(frozen=True, slots=True)
class ColonyRow:
    """One colony's counts and its drop alone, or that nothing can be told."""

    colony: Any
    before: str
    after: str
    drop: str
    range: str
    verdict: str
    mixed: bool
    """Counted both times, but not of the same bees."""
    untold: str
    """Why it gets no word by itself, where it was counted both times."""


def outcome_page(treatment: Treatment, on: dt.date) -> dict[str, Any]:
    """Context of the page."""
    result = result_of(treatment, on)
    outcome = result.outcome
    target = result.target.value if result.target else None
    seen = outcome.seen if result.growing_days else None
    row = row_of(result, on)
    return {
        "treatment": result.treatment,
        "first_on": row.first_on,
        "last_on": row.last_on,
        "recount": result.treatment.recount,
        "result": result,
        "outcome": outcome,
        "sentence": outcome_sentence_of(result, on),
        "drop": per_cent(outcome.drop) if outcome.drop is not None else "",
        "drop_range": _range(outcome),
        "seen": seen
        and say("{drop} (90 % range {range})", drop=per_cent(seen.drop), range=range_words(seen)),
        "without_growth": _without_growth(result),
        "before": side_of(result.before, result.kind),
        "after": side_of(result.after, result.kind),
        "kind": say(KIND_WORDS.get(result.kind, "")) if result.kind else "",
        "target": per_cent(target) if target else "",
        "floor": per_cent(target - 0.10) if target else "",
        "needed": _whole(outcome.mites_needed),
        "settles": settle_sentence(outcome),
        "bees_changed": note_sentences([note for note in result.notes if note in OF_BEES]),
        "notes": note_sentences([note for note in result.notes if note not in OF_BEES]),
        "confounders": [say(one) for one in CONFOUNDERS],
        "picked_high": say(PICKED_HIGH) if outcome.picked_high else "",
        "controls": result.controls and _controls(result.controls, target),
        "rows": [_colony_row(one, result.kind) for one in result.per_colony],
        "now": standing_after(result),
    }


def outcome_sentence_of(result: Result, on: dt.date) -> str:
    """The answer in a sentence, on that day."""
    target = result.target.value if result.target else None
    if result.outcome.reason is Reason.TOO_EARLY:
        return too_early_sentence(bool(result.treated) and on >= result.treatment.recount.earliest_on)
    return outcome_sentence(result.outcome, target)


def _without_growth(result: Result) -> str:
    """What the verdict would be without the allowance for growth; empty where it is the same."""
    if not result.growing_days or result.target is None:
        return ""
    pairs = [one for one in result.per_colony if one.paired]
    counted = drop_of(pairs, result.kind, result.target, treated=result.treated)
    return "" if counted.verdict is result.outcome.verdict else say(VERDICT_WORDS[counted.verdict])


def _whole(value: float | None) -> int | None:
    return int(value) if value is not None and math.isfinite(value) else None


def _range(outcome: Outcome) -> str:
    if outcome.drop is None or outcome.low is None or outcome.high is None:
        return ""
    return range_words(Drop(outcome.drop, outcome.low, outcome.high))


def _controls(outcome: Outcome, target: float | None) -> dict[str, Any]:
    shown = outcome.drop is not None
    return {
        "drop": per_cent(outcome.drop) if outcome.drop is not None else "",
        "range": _range(outcome),
        "verdict": outcome.verdict.value if shown else "",
        "sentence": outcome_sentence(outcome, target),
    }


def side_of(counted: Counted, kind: Kind | None) -> Side | None:
    """One side in words; None without counts."""
    if not counted:
        return None
    days = [sample.sampled_on for sample in counted]
    return Side(
        mites_of([counted])[0],
        _in_what(counted, kind),
        len({sample.colony_id for sample in counted}),
        min(days),
        max(days),
    )


def _in_what(counted: Counted, kind: Kind | None) -> str:
    if kind is Kind.BOARD:
        days = figure(f"{sum(float(sample.board_days or 0) for sample in counted):.1f}".removesuffix(".0"))
        whole = all(sample.share_counted == 1 for sample in counted)
        if whole:
            return say_as("in so many", "{days} board days", days=days)
        return say_as("in so many", "{days} board days, part of the cells counted", days=days)
    bees = figure(f"{sum(sample.bees or 0 for sample in counted):,}")
    if all(sample.bees_by == "counted" for sample in counted):
        return say_as("in so many", "{bees} bees", bees=bees)
    return say_as("in so many", "about {bees} bees", bees=bees)


def _colony_row(one: ColonyResult, kind: Kind | None) -> ColonyRow:
    outcome = one.outcome
    told = outcome is not None and outcome.drop is not None and outcome.verdict is not Verdict.CANNOT_TELL
    return ColonyRow(
        one.colony,
        _short(one.before, kind),
        _short(one.after, kind),
        per_cent(outcome.drop) if outcome and outcome.drop is not None else "",
        _range(outcome) if outcome else "",
        outcome.verdict.value if told and outcome else "",
        one.counted_twice and not one.paired,
        "" if told or outcome is None else _untold(outcome, kind),
    )


def _untold(outcome: Outcome, kind: Kind | None) -> str:
    """Why nothing can be told from one colony by itself."""
    why = TOO_LITTLE_ALONE.get(outcome.reason or Reason.NOT_A_COUNT)
    if why is None:
        return say("can't tell from this")
    few = TOO_LITTLE_ALONE[Reason.FEW_MITES_BEFORE]
    return say(TOO_LITTLE_ON_BOARDS if why == few and kind is Kind.BOARD else why)


def _short(counted: Counted, kind: Kind | None) -> str:
    if not counted:
        return ""
    mites = figure(f"{mites_of([counted])[0]:,}")
    return say("{mites} in {what}", mites=mites, what=_in_what(counted, kind))
