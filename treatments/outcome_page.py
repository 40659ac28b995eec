"""The page "Did it work?": the whole treatment first, then each colony, and why."""

import datetime as dt
import math
from dataclasses import dataclass
from typing import Any

from apiaries.language import figure, mark, say, say_as
from counts.samples import Kind
from counts.sentences import REFUSAL_SENTENCES, estimate_sentence
from counts.spread import constants_of_club
from counts.standing import Published, Said, compare_yard, in_short
from counts.yards import mean_of
from treatments._verdicts import Drop, Outcome, Reason, Verdict
from treatments.choosing import Counted, mites_of
from treatments.comparing import ColonyResult
from treatments.models import Treatment
from treatments.results import Result, result_of
from treatments.sentences import (
    CONFOUNDERS,
    OF_BEES,
    PICKED_HIGH,
    note_sentences,
    outcome_sentence,
    per_cent,
    range_words,
    settle_sentence,
    too_early_sentence,
)

KIND_WORDS = {Kind.WASH: mark("washes"), Kind.ROLL: mark("rolls"), Kind.BOARD: mark("boards")}

ACROSS_THESE = (
    mark("Across these colonies, at least about {mites}."),
    mark("Across these colonies, up to about {mites}."),
    mark("Across these colonies, between about {low} and {mites}."),
)


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


def outcome_page(treatment: Treatment, on: dt.date) -> dict[str, Any]:
    """Context of the page."""
    result = result_of(treatment, on)
    outcome = result.outcome
    target = result.target.value if result.target else None
    seen = outcome.seen if result.growing_days else None
    return {
        "treatment": result.treatment,
        "recount": result.treatment.recount,
        "result": result,
        "outcome": outcome,
        "sentence": _sentence(result, target, on),
        "drop": per_cent(outcome.drop) if outcome.drop is not None else "",
        "drop_range": _range(outcome),
        "seen": seen
        and say("{drop} (90 % range {range})", drop=per_cent(seen.drop), range=range_words(seen)),
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
        "now": standing_now(result),
    }


def _sentence(result: Result, target: float | None, on: dt.date) -> str:
    if result.outcome.reason is Reason.TOO_EARLY:
        return too_early_sentence(bool(result.treated) and on >= result.treatment.recount.earliest_on)
    return outcome_sentence(result.outcome, target)


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
    )


def _short(counted: Counted, kind: Kind | None) -> str:
    if not counted:
        return ""
    mites = figure(f"{mites_of([counted])[0]:,}")
    return say("{mites} in {what}", mites=mites, what=_in_what(counted, kind))


def standing_now(result: Result) -> dict[str, Any] | None:
    """Where the colonies stand after it, to the club's action level: a second answer, apart from the drop."""
    if not result.after:
        return None
    published = Published()
    last = max(result.after, key=lambda sample: (sample.sampled_on, sample.pk))
    if len(result.after) == 1 or result.kind is Kind.BOARD:
        return _one_now(published.said(last))
    constants = constants_of_club(last.yard.club_id)
    estimate = mean_of(result.after, max(result.treated, result.colonies_counted_after), constants)
    compared = compare_yard(estimate, published.of(last.yard.club.action_level_issuer, last))
    acting = [one for one in compared if one.level.act_rate is not None]
    level, standing = (acting[0].level, acting[0].standing) if len(acting) == 1 else (None, None)
    sentence = estimate_sentence(estimate, level, standing, ACROSS_THESE)
    return {"sentence": sentence, "key": in_short(tuple(acting)) if acting else ""}


def _one_now(said: Said) -> dict[str, Any]:
    estimate = said.estimate
    if estimate is None or estimate.rate is None:
        reason = estimate.reason if estimate else None
        sentence = say(REFUSAL_SENTENCES[reason]) if reason else say("No estimate.")
        return {"sentence": sentence, "key": ""}
    acting = [one for one in said.compared if one.level.act_rate is not None]
    level = (acting[0].level, acting[0].standing) if len(acting) == 1 else (None, None)
    return {"sentence": estimate_sentence(estimate, *level), "key": said.key if acting else ""}
