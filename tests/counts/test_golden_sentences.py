"""A season's sentences, as one file to read: tests/golden/season_sentences.txt.

Whoever changes a sentence reads it there. Write the file anew with
python -m tests.counts.test_golden_sentences
"""

import datetime as dt
import re
from dataclasses import replace
from pathlib import Path

import pytest

from counts.action_levels import AMOUNTS, Level, LevelKind, LevelUnit, standing
from counts.estimate import (
    Prior,
    Refusal,
    bees_to_settle,
    estimate_board,
    estimate_jar,
    rate_quantiles,
    yard_mean,
)
from counts.samples import BeesBy, BoardSample, JarSample, Method, Problem, questions_about
from counts.sentences import (
    ODDITY_SENTENCES,
    PROBLEM_SENTENCES,
    REFUSAL_SENTENCES,
    estimate_sentence,
    gap_sentence,
    level_words,
    question_sentence,
    settle_yard_sentence,
    together_sentence,
)
from counts.sentences import settle_sentence as count_settle_sentence
from treatments._verdicts import refused
from treatments.outcome import DEFAULT_GROWTH, Reason, Verdict, drop_in_mites, drop_on_boards
from treatments.possible import Check, Stand
from treatments.possible import Reason as InTheWay
from treatments.possible_words import WORDS, check_words
from treatments.sentences import (
    CONFOUNDERS,
    NOTE_SENTENCES,
    PICKED_HIGH,
    VERDICT_WORDS,
    outcome_sentence,
    settle_sentence,
    too_early_sentence,
)

GOLDEN = Path(__file__).parents[1] / "golden" / "season_sentences.txt"
MITES = (0, 2, 5, 6, 9, 12, 20, 73)
BANNED = re.compile(
    r"\b(phoretic|load|knockdown|infest\w*|safe|clean|mite-free|confirmed|significant|test\w*|check\w*|monitor\w*"
    r"|efficacy|estimator|posterior|coefficient)\b",
    re.I,
)


def level(unit=LevelUnit.PER_100_BEES, act_at=3.0, kind=LevelKind.JAR):
    return Level("k", "an issuer", "a region", kind, unit, act_at, True, "published", "a source")


def compared(estimate, one):
    return estimate_sentence(estimate, one, standing(estimate, one))


def washes():
    for method, by in ((Method.ALCOHOL_WASH, BeesBy.VOLUME), (Method.SUGAR_ROLL, BeesBy.COUNTED)):
        for mites in MITES:
            said = compared(estimate_jar(JarSample(mites, 300, by, method)), level())
            bees = "counted" if by is BeesBy.COUNTED else "by volume"
            yield f"{mites} mites in 300 bees, {method.replace('_', ' ')}, bees {bees}", said
    yield (
        "2 mites in 80 bees, alcohol wash",
        compared(estimate_jar(JarSample(2, 80, BeesBy.COUNTED, Method.ALCOHOL_WASH)), level()),
    )
    yield (
        "6 mites in 300 bees, against a level in grams",
        compared(
            estimate_jar(JarSample(6, 300, BeesBy.VOLUME, Method.ALCOHOL_WASH)),
            level(LevelUnit.PER_10_G, 4.0),
        ),
    )


def boards():
    bar = level(LevelUnit.PER_DAY, 10.0, LevelKind.BOARD)
    for mites, days, share in ((0, 3, 1), (5, 3, 1), (23, 3, 1), (23, 3, 1 / 3), (95, 3, 1), (12, 9, 1)):
        part = "" if share == 1 else ", a third of its cells"
        yield (
            f"{mites} mites in {days} days on a board{part}",
            compared(estimate_board(BoardSample(mites, days, share)), bar),
        )
    half = level(LevelUnit.PER_2_DAYS, 32.0, LevelKind.BOARD)
    yield (
        "24 mites in 2 days, against a level for 2 days",
        compared(estimate_board(BoardSample(24, 2.0)), half),
    )
    fell = estimate_board(BoardSample(400, 3.0), treatment_in_hive=True)
    yield "400 mites in 3 days on a board, with a treatment in the hive", compared(fell, bar)


def yards():
    for mites in ((0, 0, 0, 0, 0), (3, 12, 5, 0, 9), (1, 0, 2, 0, 1), (15, 22, 9, 40, 12), (4, 7), (9,)):
        jars = [300] * len(mites)
        yield (
            f"{', '.join(map(str, mites))} mites, 300 bees each, of 12 colonies",
            compared(yard_mean(mites, jars, 12, recovery=0.95), level()),
        )


def refusals():
    yield from ((f"refused: {one.value}", REFUSAL_SENTENCES[one]) for one in Refusal)
    yield from ((f"not kept: {one.value}", PROBLEM_SENTENCES[one]) for one in Problem)
    yield from ((f"asked later: {one.value}", said) for one, said in ODDITY_SENTENCES.items())
    yield "a gap in a published table", gap_sentence(level(LevelUnit.PER_DAY, 5.0, LevelKind.BOARD), 3.0)
    yield from (
        (f"a level {unit.value.replace('_', ' ')}", level_words(level(unit, AMOUNTS[unit] * 0.03)))
        for unit in LevelUnit
    )


def questions():
    jars = [(400, 300), (73, 300), (3, 40), (9, 1200), (9, 300)]
    samples = [JarSample(mites, bees, BeesBy.COUNTED, Method.ALCOHOL_WASH) for mites, bees in jars]
    for sample in (*samples, BoardSample(9, 0.25), BoardSample(9, 10.0), BoardSample(9, 3.0, 0.05)):
        for question in questions_about(sample):
            yield f"asked: {question.value}", question_sentence(question, sample)


WITH_A_NUMBER = {
    Reason.TOO_FEW_TO_SAY_WORKED,
    Reason.RANGE_TOO_WIDE,
    Reason.STARTS_UNKNOWN,
    Reason.NO_TARGET,
}
DROPS = (
    ((50, 50, 50, 50, 50, 50), (0, 0, 1, 0, 0, 0)),
    ((30, 22, 41, 9, 17, 30), (2, 3, 4, 1, 2, 4)),
    ((100, 100, 100, 100, 100, 100), (15, 15, 15, 15, 15, 15)),
    ((30, 22, 41, 9, 17, 30), (14, 9, 22, 6, 9, 13)),
    ((10,), (1,)),
    ((2, 2, 2, 2, 2, 2), (0, 0, 0, 0, 0, 0)),
    ((8, 5, 11), (14, 9, 19)),
    ((40, 35, 52), (140, 120, 190)),
    ((0, 0, 0), (0, 0, 0)),
    ((1, 0, 2), (0, 0, 0)),
)


def drops():
    for before, after in DROPS:
        grown = drop_in_mites(
            before, 300, after, 300, days_between=28, growth=DEFAULT_GROWTH, treated_colonies=12
        )
        counted = f"{sum(before)} mites before, {sum(after)} after, {len(before)} of 12 colonies"
        said = f"{outcome_sentence(grown, 0.90)} {settle_sentence(grown)}".strip()
        yield f"{counted}: {VERDICT_WORDS[grown.verdict]}", said
        if grown.drop is not None:
            untold = replace(grown, verdict=Verdict.CANNOT_TELL, reason=Reason.NO_TARGET)
            yield f"{counted}, no target", outcome_sentence(untold)
    fell = drop_on_boards((30, 24, 40), 3, (2, 1, 3), 3)
    yield (
        f"94 mites on three boards before, 6 after: {VERDICT_WORDS[fell.verdict]}",
        outcome_sentence(fell, 0.90),
    )


def verdicts():
    for reason in (one for one in Reason if one not in WITH_A_NUMBER):
        yield f"no number: {reason.value}", outcome_sentence(refused(reason), 0.90)
    yield "counted too early", too_early_sentence(True)
    yield "picked high", PICKED_HIGH
    yield from ((f"note: {note.value}", said) for note, said in NOTE_SENTENCES.items())
    yield from (("what else moves counts", said) for said in CONFOUNDERS)


def second_answers():
    for mites in (3, 9, 15):
        jar = estimate_jar(JarSample(mites, 300, BeesBy.VOLUME, Method.ALCOHOL_WASH))
        prior, bar = Prior(0.01, 1.2), level()
        given = jar.mites, jar.exposure, jar.c2
        low, high = (100 * float(one) for one in rate_quantiles(*given, (0.025, 0.975), prior))
        others = "42 other washes in a region in Aug 2026"
        said = standing(jar, bar, prior=prior)
        yield (
            f"{mites} mites in 300 bees, a region of 1 per 100",
            together_sentence(low, high, others, bar, said),
        )
    yield "the same, no level", together_sentence(0.4, 2.2, "42 other washes in a region in Aug 2026")


def settling():
    for mites in (5, 7, 9):
        jar = estimate_jar(JarSample(mites, 300, BeesBy.VOLUME, Method.ALCOHOL_WASH))
        yield f"{mites} mites in 300 bees, level 3", count_settle_sentence(jar, bees_to_settle(jar, 0.03))
    board = estimate_board(BoardSample(30, 3.0))
    yield "30 mites in 3 days", count_settle_sentence(board, None)
    for needed in (4, 9, None):
        yield f"3 of 12 colonies counted, {needed} needed", settle_yard_sentence(needed, 3, 12)


def in_the_way():
    for subject, reason in WORDS:
        warm = reason in (InTheWay.TOO_WARM, InTheWay.TOO_COLD)
        limit, number = (29.5, 31.0) if warm else (30, 3)
        found = Check(subject, Stand.NOTE, reason, limit=limit, found=number, day=dt.date(2026, 8, 12))
        yield f"{subject.value}: {reason.value}", check_words(found)


PARTS = {
    "Washes and rolls": washes,
    "Boards": boards,
    "Yards": yards,
    "Nothing to say, and why": refusals,
    "Asked before a count is kept": questions,
    "Did it work?": drops,
    "About a treatment": verdicts,
    "Read together with a region": second_answers,
    "What would settle it": settling,
    "What stands in the way of a treatment": in_the_way,
}


def season():
    """The whole file."""
    lines = [
        "What Recount says in a season. Made by tests/counts/test_golden_sentences.py; read every line you change."
    ]
    for heading, part in PARTS.items():
        lines += ["", f"== {heading}"]
        for about, said in part():
            lines += [f"[{about}]", f"  {said}"]
    return "\n".join(lines) + "\n"


def told():
    return [(about, said) for part in PARTS.values() for about, said in part()]


def test_sentences_are_those_of_the_file():
    assert season() == GOLDEN.read_text(encoding="utf-8")


@pytest.mark.parametrize(("about", "said"), told())
def test_sentence_is_plain(about, said):
    assert not BANNED.search(said)
    assert said[0].isupper() or said[0].isdigit() or about.startswith("a level")
    assert (
        "  " not in said
        and "nan" not in said.lower().split()
        and "None" not in said.replace("None found", "").replace("None of", "")
    )
    assert max(len(one.split()) for one in re.split(r"[.?:!] ", said)) <= 30


@pytest.mark.parametrize(("about", "said"), told())
def test_percent_is_a_drop_with_its_range_or_a_target(about, said):
    """A rate is per 100 bees with its count beside it; per cent is for drops only, as a range, and for targets."""
    rest = re.sub(r"between [\d,]+ and [\d,]+ %|at most \d+ %|about \d+ %|target of \d+ %", "", said)

    assert "%" not in rest and "percent" not in rest.lower()
    assert "per cent" not in rest.lower()


@pytest.mark.parametrize(("about", "said"), list(boards()))
def test_board_is_told_per_day(about, said):
    assert "per 100" not in said and "%" not in said
    assert "a day" in said or "treatment in the hive" in said or "day" in about


if __name__ == "__main__":
    GOLDEN.write_text(season(), encoding="utf-8")
