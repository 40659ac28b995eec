"""What a keeper reads about a count."""

import re

import pytest

from counts.action_levels import Level, LevelKind, LevelUnit, Standing, standing
from counts.estimate import Estimate, Refusal, Unit, estimate_board, estimate_jar, yard_mean
from counts.samples import BeesBy, BoardSample, JarSample, Method, Problem, Question, questions_about
from counts.sentences import (
    PROBLEM_SENTENCES,
    REFUSAL_SENTENCES,
    STANDING_WORDS,
    estimate_sentence,
    gap_sentence,
    level_words,
    per_100,
    per_day,
    question_sentence,
)

# Words that claim too much, or that keepers do not use alike.
NEVER = re.compile(r"\b(phoretic|load|knockdown|infested|safe|clean|mite-free|confirmed|significant)\b", re.I)


def level(act_at=3.0, unit=LevelUnit.PER_100_BEES, kind=LevelKind.JAR):
    return Level("k", "an issuer", "a region", kind, unit, act_at, True, "published", "a source")


def wash(mites, bees=300):
    return estimate_jar(JarSample(mites, bees, BeesBy.VOLUME, Method.ALCOHOL_WASH))


def told(estimate, one=None):
    one = one or level()
    return estimate_sentence(estimate, one, standing(estimate, one))


def ranged(low, high, mites=5, unit=Unit.PER_BEE):
    return Estimate(low, low, high, unit, False, None, mites, exposure=300, bees=300)


def test_count_on_either_side_says_that_it_cannot_settle():
    assert told(wash(9)) == (
        "Between about 1 and 7 mites per 100 bees. That includes the action level of 3 (an issuer), "
        "so this count can't settle it. This is from this sample alone."
    )


def test_level_at_the_rounded_end_of_the_range_is_not_said_to_be_clear():
    """2 in 300 reach to 2.9 per 100, told as 3: "clearly below 3" beside it would read like a slip."""
    assert wash(2).high < 0.03
    assert told(wash(2)).startswith("Up to about 3 mites per 100 bees. That is very likely below")
    assert "clearly below" in told(wash(1))


def test_none_found_still_tells_how_many_there_could_be():
    assert estimate_sentence(wash(0)) == (
        "None found in 300 bees. There could still be up to about 1½ mites per 100 bees. "
        "This is from this sample alone."
    )


def test_none_found_in_a_perfect_jar_could_be_one_in_a_hundred():
    # R: 100*poisson.test(0,300,alternative="less")$conf.int = .99858, the textbook case.
    perfect = Estimate(0.0, 0.0, 0.009985774245, Unit.PER_BEE, True, None, 0, exposure=300, bees=300)

    assert estimate_sentence(perfect).startswith(
        "None found in 300 bees. There could still be up to about 1 mite per 100 bees."
    )


def test_board_is_told_per_day_and_never_as_a_share():
    board = level(10, LevelUnit.PER_DAY, LevelKind.BOARD)

    sentence = told(estimate_board(BoardSample(90, 3)), board)

    assert sentence.startswith(
        "Between about 20 and 46 mites a day. That is clearly above the action level of 10"
    )
    assert "100" not in sentence and "%" not in sentence


def test_empty_board_names_its_days():
    assert estimate_sentence(estimate_board(BoardSample(0, 1))).startswith("None found in 1 day. ")
    assert estimate_sentence(estimate_board(BoardSample(0, 3.5))).startswith("None found in 3.5 days. ")


@pytest.mark.parametrize(
    ("mites", "words"),
    [(1, "That is clearly below"), (15, "That is very likely above"), (40, "That is clearly above")],
)
def test_clear_counts_say_so_only_as_strongly_as_the_range_allows(mites, words):
    assert words in told(wash(mites))


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (0.0158, 0.0552, "Between about 1½ and 6 mites per 100 bees."),
        (0.0102, 0.0398, "Between about 1 and 4 mites per 100 bees."),
        (0.0050, 0.0100, "Between about ½ and 1 mite per 100 bees."),
        (0.0023, 0.0240, "Up to about 2½ mites per 100 bees."),
        (0.0023, 0.0040, "Up to about ½ a mite per 100 bees."),
        (0.0980, 0.1010, "Between about 9½ and 11 mites per 100 bees."),
        (0.03, 0.05, "Between about 3 and 5 mites per 100 bees."),
    ],
)
def test_ranges_are_rounded_outward(low, high, words):
    assert estimate_sentence(ranged(low, high)).startswith(words)


def test_treatment_fall_is_told_but_compared_with_nothing():
    sentence = told(
        estimate_board(BoardSample(400, 3), treatment_in_hive=True),
        level(10, LevelUnit.PER_DAY, LevelKind.BOARD),
    )

    assert sentence.startswith("Between about 96 and 196 mites a day. These mites fell with a treatment")
    assert "action level of" not in sentence


def test_rough_counts_say_that_they_are_rough():
    assert "This is a rough estimate." in told(wash(3, 80))
    assert "rough" not in told(wash(3, 300))


def test_yard_names_its_bees_and_colonies_when_none_was_found():
    sentence = estimate_sentence(yard_mean([0] * 5, [300] * 5, 12))

    assert sentence.startswith("None found in 1,500 bees from 5 colonies. ")
    assert sentence.endswith("This is from these samples alone.")


def test_yard_range_says_that_it_is_the_yards():
    yard = yard_mean([3, 12, 5, 0, 9], [310, 295, 300, 280, 330], 12)

    assert estimate_sentence(yard).startswith("Across the yard, between about ½ and 5 mites per 100 bees.")
    assert estimate_sentence(yard_mean([9], [300], 12)) == REFUSAL_SENTENCES[Refusal.ONE_COLONY]


def test_two_colonies_are_not_compared():
    assert "not enough to compare" in told(yard_mean([40, 40], [300, 300], 12))


def test_refused_count_gives_the_reason_and_no_number_of_mites():
    assert told(wash(3, 40)) == REFUSAL_SENTENCES[Refusal.FEW_BEES]


@pytest.mark.parametrize(
    ("one", "words"),
    [
        (level(), "3 (an issuer)"),
        (level(0.667), "0.667 (an issuer)"),
        (level(1, LevelUnit.PER_10_G), "1 per 10 g of bees, about 1 per 100 bees (an issuer)"),
        (level(25, LevelUnit.PER_50_G), "25 per 50 g of bees, about 5 per 100 bees (an issuer)"),
        (level(32, LevelUnit.PER_2_DAYS, LevelKind.BOARD), "32 in 2 days, 16 a day (an issuer)"),
        (level(25, LevelUnit.PERCENT_CELLS, LevelKind.DRONE_BROOD), "25 of 100 drone cells (an issuer)"),
        (level(None), "no action level (an issuer)"),
    ],
)
def test_levels_are_told_as_published(one, words):
    assert level_words(one) == words


def test_gap_of_a_published_table_is_left_open():
    # France, Alsace chamber: May-June, 2 to 4 a day is undefined in the published table.
    sentence = gap_sentence(level(8, LevelUnit.PER_DAY, LevelKind.BOARD), 3.0)

    assert sentence == "The published table (an issuer) says nothing about 3. We leave it open."


@pytest.mark.parametrize(
    ("sample", "words"),
    [
        (
            JarSample(73, 300, BeesBy.VOLUME, Method.ALCOHOL_WASH),
            "73 mites of 300 bees is 24.3 per 100. Is that right?",
        ),
        (JarSample(400, 300, BeesBy.VOLUME, Method.ALCOHOL_WASH), "more mites than bees"),
        (JarSample(0, 40, BeesBy.VOLUME, Method.ALCOHOL_WASH), "40 bees are too few"),
        (JarSample(0, 3000, BeesBy.VOLUME, Method.ALCOHOL_WASH), "3,000 bees is a great many"),
        (JarSample(0, 300, BeesBy.COUNTED, Method.ALCOHOL_WASH), "counted one by one"),
        (BoardSample(3, 0.4), "Less than 12 hours"),
        (BoardSample(3, 10), "10 days on the board"),
        (BoardSample(30, 3, 0.1), "Less than a ninth"),
    ],
)
def test_unusual_counts_are_asked_about_in_words(sample, words):
    (question,) = questions_about(sample)

    assert words in question_sentence(question, sample)


def test_every_code_has_a_sentence_without_forbidden_words():
    assert set(REFUSAL_SENTENCES) == set(Refusal)
    assert set(PROBLEM_SENTENCES) == set(Problem)
    assert set(STANDING_WORDS) == set(Standing)
    every = [*REFUSAL_SENTENCES.values(), *PROBLEM_SENTENCES.values(), *STANDING_WORDS.values()]
    assert not [one for one in every if NEVER.search(one)]


def test_every_question_has_its_own_sentence():
    jar, board = JarSample(73, 300, BeesBy.COUNTED, Method.CO2), BoardSample(3, 10)
    boards = {Question.SHORT_BOARD, Question.LONG_BOARD, Question.SMALL_SHARE}

    assert len({question_sentence(one, board if one in boards else jar) for one in Question}) == len(Question)


def test_figures_have_one_decimal_halves_up():
    assert [per_100(rate) for rate in (0, 0.03, 0.0225, 0.02249, 1.0)] == [
        "0.0",
        "3.0",
        "2.3",
        "2.2",
        "100.0",
    ]
    assert [per_day(rate) for rate in (4, 7.65, 1234.5)] == ["4.0", "7.7", "1,234.5"]
