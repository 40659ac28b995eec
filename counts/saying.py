"""What this count says: the page of one count, with the levels it is compared with and the sums behind it."""

from dataclasses import dataclass
from typing import Any

from apiaries.language import figure, mark, month_short, say
from apiaries.templatetags.recount_words import plain, share
from counts.action_levels import Level
from counts.constants import Constant, Constants
from counts.estimate import Estimate, Refusal, bees_to_settle, recovery_of
from counts.models import MiteSample
from counts.neighbours import Together, together
from counts.presenters import measured_words, row_of
from counts.samples import JAR_KINDS, BeesBy, Kind, Method
from counts.sentences import (
    REFUSAL_SENTENCES,
    STANDING_WORDS,
    estimate_sentence,
    gap_sentence,
    level_words,
    per_100,
    settle_sentence,
)
from counts.standing import Comparison, Published, Said, constants_of


@dataclass(frozen=True, slots=True)
class LevelLine:
    """A published level in words, with where it was published."""

    words: str
    region: str
    months: str
    source: str
    mark: str
    note: str
    standing: str = ""
    key: str = ""
    gap: str = ""


def sample_page(sample: MiteSample) -> dict[str, Any]:
    """Context of the page of one count (who recorded it comes from the presenters)."""
    published = Published()
    row = row_of(sample, published)
    said, issuer = row.said, sample.yard.club.action_level_issuer
    acting = [one for one in said.compared if one.level.act_rate is not None]
    comparable = said.estimate is not None and said.estimate.comparable
    beside = together(sample, said.estimate, acting) if said.estimate and comparable else None
    return {
        "sample": sample,
        "row": row,
        "said": said,
        "sentence": sentence_of(said, acting),
        "measured": measured_words(sample),
        "issuer": published.issuer_name(issuer),
        "levels": [_line(one.level, said, one) for one in said.compared],
        "others": [_line(level, said) for level in published.others(issuer, sample)],
        "no_level": no_level_words(sample, said, published.issuer_name(issuer)),
        "bar_level": acting[0].per_100_or_day if len(acting) == 1 and _comparable(said) else None,
        "sums": sums_behind(sample, said, acting, beside),
        "as_counted": as_counted_words(sample, said),
        "settle": settle_words(said, acting),
        "together": beside,
    }


def sentence_of(said: Said, acting: list[Comparison]) -> str:
    """The answer of the page in a keeper's words."""
    if said.estimate is None:
        return say(REFUSAL_SENTENCES[Refusal.DRONE_BROOD])
    if len(acting) == 1:
        return estimate_sentence(said.estimate, acting[0].level, acting[0].standing)
    return estimate_sentence(said.estimate)


def settle_words(said: Said, acting: list[Comparison]) -> str:
    """What more would settle a count that could be either side; empty where there is nothing to settle."""
    if said.estimate is None or said.key != "either_side" or len(acting) != 1:
        return ""
    return settle_sentence(said.estimate, bees_to_settle(said.estimate, acting[0].level.act_rate or 0.0))


AS_COUNTED = {
    Method.SUGAR_ROLL: mark(
        "As counted {counted} per 100; a sugar roll leaves about {left} in 100 mites on the bees, "
        "so the estimate is {estimated}."
    ),
    Method.CO2: mark(
        "As counted {counted} per 100; CO2 leaves about {left} in 100 mites on the bees, "
        "so the estimate is {estimated}."
    ),
}
AS_COUNTED_IN_A_WASH = mark(
    "As counted {counted} per 100; a wash leaves about {left} in 100 mites on the bees, "
    "so the estimate is {estimated}."
)


def as_counted_words(sample: MiteSample, said: Said) -> str:
    """Why the estimate of a jar is not the plain fraction of mites to bees; empty where the two read the same."""
    estimate = said.estimate
    if estimate is None or estimate.rate is None or sample.kind not in JAR_KINDS or not sample.bees:
        return ""
    counted, estimated = per_100(sample.mites / sample.bees), per_100(estimate.rate)
    method = Method(sample.method)
    left = round(100 * (1 - recovery_of(method, constants_of(sample)).value))
    if counted == estimated or left < 1:
        return ""
    words = AS_COUNTED.get(method, AS_COUNTED_IN_A_WASH)
    return say(words, counted=counted, left=left, estimated=estimated)


def no_level_words(sample: MiteSample, said: Said, issuer: str) -> str:
    """Why the count is compared with nothing; empty where it is."""
    if said.estimate is None:
        return say(
            "The action levels for drone brood are shares of cells, so this count is not compared with them."
        )
    if not _comparable(said) or any(one.level.act_rate is not None for one in said.compared):
        return ""
    if not issuer:
        return say("The club has not chosen whose action levels it goes by.")
    words = mark("{issuer}: no level published for a jar of bees in {month}.")
    if sample.kind is Kind.BOARD:
        words = mark("{issuer}: no level published for a board in {month}.")
    return say(words, issuer=issuer, month=month_short(sample.sampled_on.month))


def months_words(level: Level) -> str:
    """For which months a level is."""
    if level.months is None:
        return say("all year")
    first, last = (month_short(month) for month in level.months)
    return first if first == last else say("{first} to {last}", first=first, last=last)


def sums_behind(
    sample: MiteSample, said: Said, acting: list[Comparison], beside: Together | None = None
) -> list[tuple[str, str, str]]:
    """Name, value and where it is from, of everything that the figures of this page rest on."""
    estimate = said.estimate
    if estimate is None or sample.basis is None:
        return []
    constants = constants_of(sample)
    lines = [(say("Method of the sums"), sample.basis.version, say("kept with the count"))]
    used = (
        _board_constants(sample, constants)
        if sample.kind is Kind.BOARD
        else _jar_constants(sample, constants)
    )
    lines += [(say(name), _value(one), one.where_from) for name, one in used]
    if estimate.rate is not None:
        spread = figure(f"{estimate.c2:.4f}")
        lines.append((say("Spread of everything together, squared"), spread, say("worked out")))
        lines.append((say("Level of the range"), share(constants.level.value), constants.level.where_from))
        lines += _chances(estimate, acting, constants, beside)
    return lines


def _chances(
    estimate: Estimate, acting: list[Comparison], constants: Constants, beside: Together | None
) -> list[tuple[str, str, str]]:
    if not estimate.comparable:
        return []
    lines = []
    for one in acting:
        chance = estimate.chance_above(one.level.act_rate or 0.0)
        name = say("Chance of being above {level}", level=level_words(one.level))
        lines.append((name, _chance(chance), say("from this sample alone")))
        if beside is not None and beside.chance is not None:
            words = mark("with {counts} other counts of the region and month, by today's method")
            where = say(words, counts=beside.counts)
            lines.append((name, _chance(beside.chance), where))
    if lines:
        surely = constants.certain_at
        lines.append((say("Called above or below from a chance of"), share(surely.value), surely.where_from))
    return lines


def _chance(chance: float) -> str:
    """A chance in whole per cent, never rounded to certainty."""
    if chance > 0.99:
        return say("over 99 %")
    return say("under 1 %") if chance < 0.01 else share(chance)


def _jar_constants(sample: MiteSample, constants: Constants) -> list[tuple[str, Constant]]:
    counted = sample.bees_by == BeesBy.COUNTED
    bees = constants.bees_cv_counted if counted else constants.bees_cv_estimated
    return [
        (mark("Share of the mites that the method finds"), recovery_of(Method(sample.method), constants)),
        (mark("Spread of the number of bees"), bees),
        (mark("Spread from scoop to scoop"), constants.scoop_cv),
    ]


def _board_constants(sample: MiteSample, constants: Constants) -> list[tuple[str, Constant]]:
    used = [
        (mark("Share of the mites seen on the counted cells"), constants.board_detection),
        (mark("Spread of the drop from day to day"), constants.board_day_cv),
    ]
    if sample.cells_total:
        used.append((mark("Spread from counting a part of the board"), constants.board_grid_cv))
    return used


def _value(one: Constant) -> str:
    return f"{plain(one.value)} ± {plain(one.sd)}" if one.sd else plain(one.value)


def _comparable(said: Said) -> bool:
    return said.estimate is not None and said.estimate.comparable


def _line(level: Level, said: Said, compared: Comparison | None = None) -> LevelLine:
    rate = said.estimate.rate if said.estimate else None
    gap = compared is not None and compared.gap and rate is not None
    return LevelLine(
        words=level_words(level),
        region=say(level.region),
        months=months_words(level),
        source=say(level.source),
        mark=say(level.mark),
        note=say(level.note),
        standing=say(STANDING_WORDS[compared.standing]) if compared and _comparable(said) else "",
        key=compared.standing.value if compared and _comparable(said) else "",
        gap=gap_sentence(level, level.in_unit(rate or 0.0)) if gap else "",
    )
