"""The sentences a keeper reads about a count, in the reader's language. Pure.

Ranges are rounded outward, to halves below 10, so that words never claim more than the numbers; exact numbers
stay with the caller, who also shows the raw count ("7 of 300"). Boards are told per day, never as a share.
"""

from __future__ import annotations

import math

from apiaries.language import figure, mark, say, say_many
from counts._amounts import down, halves, mites, one_decimal, one_or_many, plain, up
from counts._verdicts import Estimate, Refusal, Unit
from counts._yards import YardEstimate
from counts.action_levels import AMOUNTS, Level, LevelUnit, Standing
from counts.data_checks import Oddity
from counts.samples import BoardSample, JarSample, Problem, Question

STANDING_WORDS = {
    Standing.BELOW: mark("below the action level"),
    Standing.EITHER_SIDE: mark("could be either side"),
    Standing.ABOVE: mark("above the action level"),
    Standing.NOT_ENOUGH: mark("not enough to say"),
}

REFUSAL_SENTENCES = {
    Refusal.NOT_A_COUNT: mark("This can't have been counted as written, so nothing can be said from it."),
    Refusal.NO_BEES: mark("No bees were counted, so there is no rate."),
    Refusal.FEW_BEES: mark("Fewer than 50 bees are too few to say anything. Count about 300."),
    Refusal.WRONG_METHOD: mark("A board can't be told per 100 bees, and a jar can't be told per day."),
    Refusal.DRONE_BROOD: mark(
        "Drone brood can't be turned into mites per 100 bees. Count bees in a jar for that."
    ),
    Refusal.NO_DAYS: mark("Without the days on the board there is no drop per day."),
    Refusal.SHORT_BOARD: mark("Less than 12 hours on the board is too short. Leave it for at least 3 days."),
    Refusal.SMALL_SHARE: mark("Too small a part of the board was counted to speak for all of it."),
    Refusal.FEW_MITES_ON_PART: mark(
        "Fewer than 20 mites on a part of the board are too few. Count all of it."
    ),
    Refusal.TREATMENT_FALL: mark(
        "These mites fell with a treatment in the hive: not the natural drop, so no action level applies."
    ),
    Refusal.ONE_COLONY: mark("One colony can't speak for its yard. Count at least 3 colonies."),
}

PROBLEM_SENTENCES = {
    Problem.MITES_NOT_WHOLE: mark("Enter the number of mites as a whole number, even if it is 0."),
    Problem.BEES_NOT_POSITIVE: mark("Enter the number of bees in the jar. It must be at least 1."),
    Problem.MITES_IMPOSSIBLE: mark(
        "More than 3 mites for each bee can't be right. Look at both numbers again."
    ),
    Problem.DAYS_NOT_POSITIVE: mark("Enter how many days the board was in the hive. It must be more than 0."),
    Problem.SHARE_NOT_POSSIBLE: mark(
        "The cells counted must be at least 1 and at most the cells on the board."
    ),
    Problem.MORE_MITES_THAN_CELLS: mark("There can't be more drone cells with mites than cells opened."),
    Problem.IN_THE_FUTURE: mark("The date of the count can't be in the future."),
}

ODDITY_SENTENCES = {
    Oddity.HOT_OR_TYPING: mark("This is far above the other colonies here. A hot colony or a typing error?"),
    Oddity.FAST_RISE: mark(
        "This rose faster than mites can breed in a colony. Mites from elsewhere, or a slip in a number?"
    ),
    Oddity.FALL_UNTREATED: mark(
        "This fell a great deal without a treatment on record. Is a treatment missing?"
    ),
    Oddity.ROUND_NUMBERS: mark("Many of these counts end in 0 or 5. Are the mites counted one by one?"),
    Oddity.ALL_ZERO: mark("None of these washes found a mite. Worth doing one together with this keeper."),
}
"""What to ask, about counts that are kept as they are: the last two are hints for a coordinator only."""

COMPARED = {
    Standing.BELOW: (
        mark("That is clearly below the action level of {level}."),
        mark("That is very likely below the action level of {level}."),
    ),
    Standing.ABOVE: (
        mark("That is clearly above the action level of {level}."),
        mark("That is very likely above the action level of {level}."),
    ),
}
"""The second of each pair is said where the level lies inside the range as it is told."""

ACROSS_YARD = (
    mark("Across the yard, at least about {mites}."),
    mark("Across the yard, up to about {mites}."),
    mark("Across the yard, between about {low} and {mites}."),
)
"""The range of a mean over colonies, in whole sentences: at least, up to, between."""
_ONE = mark("At least about {mites}."), mark("Up to about {mites}."), mark("Between about {low} and {mites}.")
ALONE = mark("This is from this sample alone.")
ALONE_YARD = mark("This is from these samples alone.")


def per_100(rate: float) -> str:
    """Mites per 100 bees from mites per bee, one decimal, halves up."""
    return one_decimal(rate * 100.0)


def per_day(rate: float) -> str:
    """Mites per day, one decimal, halves up."""
    return one_decimal(rate)


def estimate_sentence(
    estimate: Estimate | YardEstimate,
    level: Level | None = None,
    standing: Standing | None = None,
    across: tuple[str, str, str] = ACROSS_YARD,
) -> str:
    """What the estimate says in plain words, with how it stands to a level if one is given; `across` whom a mean is."""
    if estimate.reason is not None and estimate.reason is not Refusal.TREATMENT_FALL:
        return say(REFUSAL_SENTENCES[estimate.reason])
    parts = [_found(estimate, across)]
    if estimate.reason is Refusal.TREATMENT_FALL:
        return f"{parts[0]} {say(REFUSAL_SENTENCES[estimate.reason])}"
    if level is not None and standing is not None:
        parts.append(_compared(estimate, level, standing))
    if estimate.rough:
        parts.append(say("This is a rough estimate."))
    parts.append(say(ALONE_YARD if isinstance(estimate, YardEstimate) else ALONE))
    return " ".join(parts)


def together_sentence(
    low: float, high: float, others: str, level: Level | None = None, standing: Standing | None = None
) -> str:
    """What a count says read together with `others` (which, in words); `low` and `high` are mites per 100 bees."""
    least, most = down(low), mites(up(high), Unit.PER_BEE)
    if least:
        words = mark("Read together with {others}: between about {low} and {mites}.")
        found = say(words, others=others, low=halves(least), mites=most)
    else:
        found = say("Read together with {others}: up to about {mites}.", others=others, mites=most)
    if level is None or level.act_rate is None or standing in (None, Standing.NOT_ENOUGH):
        return found
    if standing is Standing.EITHER_SIDE:
        return " ".join((found, say("That includes the action level of {level}.", level=level_words(level))))
    inside = down(low) <= level.act_rate * 100.0 <= up(high)
    return f"{found} {say(COMPARED[standing][inside], level=level_words(level))}"


def settle_sentence(estimate: Estimate, needed: int | None) -> str:
    """How many bees in all, as worked out, would settle a colony's count; boards are told what says more."""
    if estimate.unit is Unit.PER_DAY:
        return say(
            "What would say more: a wash of about 300 bees, or a board that lies longer, up to a week."
        )
    if needed is None:
        return say(
            "What would settle it: no amount of counting we would advise; the rate lies too close to the level."
        )
    more = needed - (estimate.bees or 0)
    return say(
        "What would settle it: about {more} more bees of this colony, in jars like this one, "
        "if they show the same rate. A plan, not a promise.",
        more=figure(f"{more:,}"),
    )


def settle_yard_sentence(needed: int | None, counted: int, colonies: int) -> str:
    """How many colonies in all, as worked out, would settle a yard's mean."""
    if needed is None or needed <= counted:
        return say(
            "What would settle it: not even all {colonies} colonies; the mean lies too close to the level.",
            colonies=colonies,
        )
    return say_many(
        "What would settle it: about {n} more colony, {needed} of {colonies} in all, "
        "if they show the same rate. A plan, not a promise.",
        "What would settle it: about {n} more colonies, {needed} of {colonies} in all, "
        "if they show the same rate. A plan, not a promise.",
        needed - counted,
        n=needed - counted,
        needed=needed,
        colonies=colonies,
    )


_PER_WEIGHT = {
    LevelUnit.PER_10_G: mark("{value} per 10 g of bees, about {same} per 100 bees ({issuer})"),
    LevelUnit.PER_50_G: mark("{value} per 50 g of bees, about {same} per 100 bees ({issuer})"),
}


def level_words(level: Level) -> str:
    """An action level as published, with its issuer, and in the unit of the sentence where that differs."""
    issuer = level.issuer
    if level.act_at is None:
        return say("no action level ({issuer})", issuer=issuer)
    value = plain(level.act_at)
    if level.unit is LevelUnit.PERCENT_CELLS:
        return say("{value} of 100 drone cells ({issuer})", value=value, issuer=issuer)
    if level.unit is LevelUnit.PER_2_DAYS:
        day = plain(level.act_at / AMOUNTS[level.unit])
        return say("{value} in 2 days, {day} a day ({issuer})", value=value, day=day, issuer=issuer)
    if level.unit in _PER_WEIGHT:
        same = plain(level.act_at * 100.0 / AMOUNTS[level.unit])
        return say(_PER_WEIGHT[level.unit], value=value, same=same, issuer=issuer)
    return f"{value} ({issuer})"


def gap_sentence(level: Level, value: float) -> str:
    """Why a value has no band: the published table leaves a gap there."""
    return say(
        "The published table ({issuer}) says nothing about {value}. We leave it open.",
        issuer=level.issuer,
        value=plain(value),
    )


_JAR_QUESTIONS = {
    Question.MORE_MITES_THAN_BEES: mark(
        "{mites} mites of {bees} bees is {rate} per 100. That is more mites than bees. Is that right?"
    ),
    Question.MANY_MITES: mark("{mites} mites of {bees} bees is {rate} per 100. Is that right?"),
    Question.FEW_BEES: mark("{bees} bees are too few for an estimate. Is that right?"),
    Question.MANY_BEES: mark("{bees} bees is a great many for one jar. Is that right?"),
}
_BY_A_MEASURE = mark("Exactly {bees} bees: were they counted one by one, not by a measure?")
_BOARD_QUESTIONS = {
    Question.SHORT_BOARD: mark("Less than 12 hours on the board gives no drop per day. Is that right?"),
    Question.LONG_BOARD: mark("{days} days on the board: ants take mites. Is that right?"),
}
_PART_OF_BOARD = mark("Less than a ninth of the board was counted. Is that right?")


def question_sentence(question: Question, sample: JarSample | BoardSample) -> str:
    """What to ask the keeper before the count is kept."""
    if isinstance(sample, BoardSample):
        return say(_BOARD_QUESTIONS.get(question, _PART_OF_BOARD), days=plain(sample.days))
    return say(
        _JAR_QUESTIONS.get(question, _BY_A_MEASURE),
        mites=figure(f"{sample.mites:,}"),
        bees=figure(f"{sample.bees:,}"),
        rate=per_100(sample.mites / sample.bees),
    )


def _found(estimate: Estimate | YardEstimate, across: tuple[str, str, str]) -> str:
    """The range in words; at 0 mites how many bees or days that was, and how many there could still be."""
    low, high = _told(estimate)
    if estimate.mites == 0:
        return _none_found(estimate, mites(high, estimate.unit))
    at_least, up_to, between = across if isinstance(estimate, YardEstimate) else _ONE
    if math.isinf(high):
        return say(at_least, mites=mites(low, estimate.unit))
    most = mites(high, estimate.unit)
    if low == 0:
        return say(up_to, mites=most)
    return say(between, low=halves(low), mites=most)


def _none_found(estimate: Estimate | YardEstimate, most: str) -> str:
    if isinstance(estimate, YardEstimate):
        return say_many(
            "None found in {bees} bees from {n} colony. There could still be up to about {mites}.",
            "None found in {bees} bees from {n} colonies. There could still be up to about {mites}.",
            int(estimate.colonies_sampled),
            bees=figure(f"{estimate.bees:,}"),
            mites=most,
        )
    if estimate.unit is Unit.PER_DAY:
        days = estimate.days or 0.0
        return say_many(
            "None found in {n} day. There could still be up to about {mites}.",
            "None found in {n} days. There could still be up to about {mites}.",
            one_or_many(days),
            n=plain(days),
            mites=most,
        )
    return say(
        "None found in {bees} bees. There could still be up to about {mites}.",
        bees=figure(f"{estimate.bees:,}"),
        mites=most,
    )


def _told(estimate: Estimate | YardEstimate) -> tuple[float, float]:
    """Ends of the range, rounded outward, per 100 bees or per day."""
    scale = _scale(estimate)
    return down((estimate.low or 0.0) * scale), up((estimate.high or 0.0) * scale)


def _scale(estimate: Estimate | YardEstimate) -> float:
    return 1.0 if estimate.unit is Unit.PER_DAY else 100.0


def _compared(estimate: Estimate | YardEstimate, level: Level, standing: Standing) -> str:
    rate, words = level.act_rate, level_words(level)
    if standing is Standing.NOT_ENOUGH or rate is None:
        return say("That is not enough to compare with an action level.")
    if standing is Standing.EITHER_SIDE:
        return say("That includes the action level of {level}, so this count can't settle it.", level=words)
    # "Clearly" only where the level lies outside the range as it is told, rounded outward.
    low, high = _told(estimate)
    inside = low <= rate * _scale(estimate) <= high
    return say(COMPARED[standing][inside], level=words)
