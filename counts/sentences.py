"""The sentences a keeper reads about a count. Pure.

Ranges are rounded outward, to halves below 10, so that words never claim more than the numbers; exact numbers
stay with the caller, who also shows the raw count ("7 of 300"). Boards are told per day, never as a share.
"""

from __future__ import annotations

import math
from decimal import ROUND_HALF_UP, Decimal

from counts._verdicts import Estimate, Refusal, Unit
from counts._yards import YardEstimate
from counts.action_levels import AMOUNTS, Level, LevelUnit, Standing
from counts.data_checks import Oddity
from counts.samples import BoardSample, JarSample, Problem, Question

STANDING_WORDS = {
    Standing.BELOW: "below the action level",
    Standing.EITHER_SIDE: "could be either side",
    Standing.ABOVE: "above the action level",
    Standing.NOT_ENOUGH: "not enough to say",
}

REFUSAL_SENTENCES = {
    Refusal.NOT_A_COUNT: "This can't have been counted as written, so nothing can be said from it.",
    Refusal.NO_BEES: "No bees were counted, so there is no rate.",
    Refusal.FEW_BEES: "Fewer than 50 bees are too few to say anything. Count about 300.",
    Refusal.WRONG_METHOD: "A board can't be told per 100 bees, and a jar can't be told per day.",
    Refusal.DRONE_BROOD: "Drone brood can't be turned into mites per 100 bees. Count bees in a jar for that.",
    Refusal.NO_DAYS: "Without the days on the board there is no drop per day.",
    Refusal.SHORT_BOARD: "Less than 12 hours on the board is too short. Leave it for at least 3 days.",
    Refusal.SMALL_SHARE: "Too small a part of the board was counted to speak for all of it.",
    Refusal.FEW_MITES_ON_PART: "Fewer than 20 mites on a part of the board are too few. Count all of it.",
    Refusal.TREATMENT_FALL: (
        "These mites fell with a treatment in the hive: not the natural drop, so no action level applies."
    ),
    Refusal.ONE_COLONY: "One colony can't speak for its yard. Count at least 3 colonies.",
}

PROBLEM_SENTENCES = {
    Problem.MITES_NOT_WHOLE: "Enter the number of mites as a whole number, even if it is 0.",
    Problem.BEES_NOT_POSITIVE: "Enter the number of bees in the jar. It must be at least 1.",
    Problem.MITES_IMPOSSIBLE: "More than 3 mites for each bee can't be right. Look at both numbers again.",
    Problem.DAYS_NOT_POSITIVE: "Enter how many days the board was in the hive. It must be more than 0.",
    Problem.SHARE_NOT_POSSIBLE: "The cells counted must be at least 1 and at most the cells on the board.",
    Problem.MORE_MITES_THAN_CELLS: "There can't be more drone cells with mites than cells opened.",
    Problem.IN_THE_FUTURE: "The date of the count can't be in the future.",
}

ODDITY_SENTENCES = {
    Oddity.HOT_OR_TYPING: "This is far above the other colonies here. A hot colony or a typing error?",
    Oddity.FAST_RISE: "This rose faster than mites can breed in a colony. Mites from elsewhere, or a slip in a number?",
    Oddity.FALL_UNTREATED: "This fell a great deal without a treatment on record. Is a treatment missing?",
    Oddity.ROUND_NUMBERS: "Many of these counts end in 0 or 5. Are the mites counted one by one?",
    Oddity.ALL_ZERO: "None of these washes found a mite. Worth doing one together with this keeper.",
}
"""What to ask, about counts that are kept as they are: the last two are hints for a coordinator only."""

ALONE = "This is from this sample alone."
ALONE_YARD = "This is from these samples alone."


def per_100(rate: float) -> str:
    """Mites per 100 bees from mites per bee, one decimal, halves up."""
    return _one_decimal(rate * 100.0)


def per_day(rate: float) -> str:
    """Mites per day, one decimal, halves up."""
    return _one_decimal(rate)


def estimate_sentence(
    estimate: Estimate | YardEstimate, level: Level | None = None, standing: Standing | None = None
) -> str:
    """What the estimate says in plain words, with how it stands to a level if one is given."""
    if estimate.reason is not None and estimate.reason is not Refusal.TREATMENT_FALL:
        return REFUSAL_SENTENCES[estimate.reason]
    parts = [_found(estimate)]
    if estimate.reason is Refusal.TREATMENT_FALL:
        return f"{parts[0]} {REFUSAL_SENTENCES[estimate.reason]}"
    if level is not None and standing is not None:
        parts.append(_compared(estimate, level, standing))
    if estimate.rough:
        parts.append("This is a rough estimate.")
    parts.append(ALONE_YARD if isinstance(estimate, YardEstimate) else ALONE)
    return " ".join(parts)


def together_sentence(
    low: float, high: float, others: str, level: Level | None = None, standing: Standing | None = None
) -> str:
    """What a count says read together with `others` (which, in words); `low` and `high` are mites per 100 bees."""
    least = _down(low)
    told = f"between about {_halves(least)} and" if least else "up to about"
    found = f"Read together with {others}: {told} {_mites(_up(high))} per 100 bees."
    if level is None or level.act_rate is None or standing in (None, Standing.NOT_ENOUGH):
        return found
    if standing is Standing.EITHER_SIDE:
        return f"{found} That includes the action level of {level_words(level)}."
    inside = _down(low) <= level.act_rate * 100.0 <= _up(high)
    sure = "very likely" if inside else "clearly"
    return f"{found} That is {sure} {STANDING_WORDS[standing]} of {level_words(level)}."


def settle_sentence(estimate: Estimate, needed: int | None) -> str:
    """How many bees in all, as worked out, would settle a colony's count; boards are told what says more."""
    if estimate.unit is Unit.PER_DAY:
        return "What would say more: a wash of about 300 bees, or a board that lies longer, up to a week."
    if needed is None:
        return "What would settle it: no amount of counting we would advise; the rate lies too close to the level."
    more = needed - (estimate.bees or 0)
    return (
        f"What would settle it: about {more:,} more bees of this colony, in jars like this one, "
        "if they show the same rate. A plan, not a promise."
    )


def settle_yard_sentence(needed: int | None, counted: int, colonies: int) -> str:
    """How many colonies in all, as worked out, would settle a yard's mean."""
    if needed is None or needed <= counted:
        return (
            f"What would settle it: not even all {colonies} colonies; the mean lies too close to the level."
        )
    more = needed - counted
    return (
        f"What would settle it: about {more} more {'colony' if more == 1 else 'colonies'}, {needed} of {colonies} "
        "in all, if they show the same rate. A plan, not a promise."
    )


def level_words(level: Level) -> str:
    """An action level as published, with its issuer, and in the unit of the sentence where that differs."""
    if level.act_at is None:
        return f"no action level ({level.issuer})"
    words = _plain(level.act_at)
    unit = {
        LevelUnit.PER_10_G: " per 10 g of bees",
        LevelUnit.PER_50_G: " per 50 g of bees",
        LevelUnit.PER_2_DAYS: " in 2 days",
        LevelUnit.PERCENT_CELLS: " of 100 drone cells",
    }.get(level.unit)
    if unit is None:
        return f"{words} ({level.issuer})"
    if level.unit is LevelUnit.PERCENT_CELLS:
        return f"{words}{unit} ({level.issuer})"
    if level.unit is LevelUnit.PER_2_DAYS:
        return f"{words}{unit}, {_plain(level.act_at / AMOUNTS[level.unit])} a day ({level.issuer})"
    same = _plain(level.act_at * 100.0 / AMOUNTS[level.unit])
    return f"{words}{unit}, about {same} per 100 bees ({level.issuer})"


def gap_sentence(level: Level, value: float) -> str:
    """Why a value has no band: the published table leaves a gap there."""
    return f"The published table ({level.issuer}) says nothing about {_plain(value)}. We leave it open."


def question_sentence(question: Question, sample: JarSample | BoardSample) -> str:
    """What to ask the keeper before the count is kept."""
    if isinstance(sample, BoardSample):
        return {
            Question.SHORT_BOARD: "Less than 12 hours on the board gives no drop per day. Is that right?",
            Question.LONG_BOARD: f"{_plain(sample.days)} days on the board: ants take mites. Is that right?",
        }.get(question, "Less than a ninth of the board was counted. Is that right?")
    seen = f"{sample.mites:,} mites of {sample.bees:,} bees is {per_100(sample.mites / sample.bees)} per 100."
    return {
        Question.MORE_MITES_THAN_BEES: f"{seen} That is more mites than bees. Is that right?",
        Question.MANY_MITES: f"{seen} Is that right?",
        Question.FEW_BEES: f"{sample.bees} bees are too few for an estimate. Is that right?",
        Question.MANY_BEES: f"{sample.bees:,} bees is a great many for one jar. Is that right?",
    }.get(question, f"Exactly {sample.bees} bees: were they counted one by one, not by a measure?")


def _found(estimate: Estimate | YardEstimate) -> str:
    """The range in words; at 0 mites how many bees or days that was, and how many there could still be."""
    per = " a day" if estimate.unit is Unit.PER_DAY else " per 100 bees"
    low, high = _told(estimate)
    if estimate.mites == 0:
        return f"None found {_looked_at(estimate)}. There could still be up to about {_mites(high)}{per}."
    where = "Across the yard, " if isinstance(estimate, YardEstimate) else ""
    if math.isinf(high):
        text = f"at least about {_mites(low)}{per}."
    elif low == 0:
        text = f"up to about {_mites(high)}{per}."
    else:
        text = f"between about {_halves(low)} and {_mites(high)}{per}."
    return where + (text if where else text[0].upper() + text[1:])


def _told(estimate: Estimate | YardEstimate) -> tuple[float, float]:
    """Ends of the range, rounded outward, per 100 bees or per day."""
    scale = _scale(estimate)
    return _down((estimate.low or 0.0) * scale), _up((estimate.high or 0.0) * scale)


def _scale(estimate: Estimate | YardEstimate) -> float:
    return 1.0 if estimate.unit is Unit.PER_DAY else 100.0


def _looked_at(estimate: Estimate | YardEstimate) -> str:
    if isinstance(estimate, YardEstimate):
        return f"in {estimate.bees:,} bees from {estimate.colonies_sampled} colonies"
    if estimate.unit is Unit.PER_DAY:
        days = estimate.days or 0.0
        return f"in {_plain(days)} {'day' if days == 1 else 'days'}"
    return f"in {estimate.bees:,} bees"


def _compared(estimate: Estimate | YardEstimate, level: Level, standing: Standing) -> str:
    rate, words = level.act_rate, level_words(level)
    if standing is Standing.NOT_ENOUGH or rate is None:
        return "That is not enough to compare with an action level."
    if standing is Standing.EITHER_SIDE:
        return f"That includes the action level of {words}, so this count can't settle it."
    # "Clearly" only where the level lies outside the range as it is told, rounded outward.
    low, high = _told(estimate)
    inside = low <= rate * _scale(estimate) <= high
    return f"That is {'very likely' if inside else 'clearly'} {standing.value} the action level of {words}."


def _down(value: float) -> float:
    """Rounded down: to halves below 10, to whole numbers above."""
    step = 2.0 if value < 10 else 1.0
    return math.floor(value * step + 1e-9) / step


def _up(value: float) -> float:
    """Rounded up likewise; infinite stays infinite."""
    if math.isinf(value):
        return value
    step = 2.0 if value <= 10 else 1.0
    return math.ceil(value * step - 1e-9) / step


def _halves(value: float) -> str:
    whole = int(value)
    if value == whole:
        return f"{whole:,}"
    return "½" if whole == 0 else f"{whole:,}½"


def _mites(value: float) -> str:
    if value == 0.5:
        return "½ a mite"
    return f"{_halves(value)} {'mite' if value == 1 else 'mites'}"


def _plain(value: float) -> str:
    """A figure as it was printed, without trailing zeros."""
    return f"{round(value, 3):,g}" if abs(value) < 1e6 else f"{value:,.0f}"


def _one_decimal(value: float) -> str:
    return f"{Decimal(str(round(value, 9))).quantize(Decimal('0.1'), ROUND_HALF_UP):,}"
