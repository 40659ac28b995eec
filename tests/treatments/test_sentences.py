"""The sentences about a treatment, word for word."""

import math

import pytest

from treatments._verdicts import Drop, Outcome, Reason, Verdict
from treatments.outcome import drop_in_mites
from treatments.sentences import (
    _NO_NUMBER,
    NOTE_SENTENCES,
    VERDICT_WORDS,
    Note,
    drop_words,
    note_sentences,
    outcome_sentence,
    per_cent,
    range_words,
    settle_sentence,
    too_early_sentence,
)

AVOIDED = (
    "phoretic",
    "load",
    "knockdown",
    "infested",
    "safe",
    "clean",
    "mite-free",
    "confirmed",
    "significant",
    "efficacy",
)


def said(before: int, after: int, colonies: int = 6, target: float = 0.90) -> str:
    bees = [300] * colonies
    outcome = drop_in_mites([before] * colonies, bees, [after] * colonies, bees, target=target)
    return outcome_sentence(outcome, target)


@pytest.mark.parametrize(
    ("before", "after", "words"),
    [
        (50, 0, "The drop in mites is between 99 and 100 %. That fits the target of 90 %."),
        (
            100,
            15,
            "The drop in mites is between 80 and 89 %. "
            "That is a good part of the way, but below the target of 90 %.",
        ),
        (
            2,
            0,
            "The drop in mites is between 82 and 100 %. "
            "That looks good, but 12 mites before are too few to show a target of 90 %.",
        ),
    ],
)
def test_outcome_sentences(before: int, after: int, words: str) -> None:
    assert said(before, after) == words


def test_whole_range_below_the_target_says_so() -> None:
    assert said(30, 15).endswith("The whole range lies below the target of 90 %, and it may be far below.")


def test_wide_range_is_too_wide() -> None:
    assert said(9, 1, colonies=1).endswith(
        "The range is too wide to say whether it reached the target of 90 %."
    )


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (0.8764, 0.9834, "The drop in mites is between 87 and 99 %."),
        (-0.2, 0.431, "The drop in mites is at most 44 %, and mites may even have risen."),
        (-1.499, -0.2, "Mites did not drop: they rose by between 20 and 150 %."),
        (0.0, 1.0, "The drop in mites is between 0 and 100 %."),
        (1.0, 1.0, "The drop in mites is about 100 %."),
    ],
)
def test_ranges_are_rounded_outward(low: float, high: float, words: str) -> None:
    assert drop_words(Drop(0.5, low, high)) == words


def test_figures_of_a_table() -> None:
    # 60 to 3 mites, 87.64-98.34: fixtures/worked_examples/drop_in_mites.csv
    assert range_words(Drop(0.95, 0.876443502, 0.983356612)) == "87 to 99 %"
    assert range_words(Drop(-0.1, -0.4941, 0.2)) == "\N{MINUS SIGN}50 to 20 %"
    assert (per_cent(0.945), per_cent(-0.096)) == ("95 %", "\N{MINUS SIGN}10 %")


def test_no_target_gives_no_verdict() -> None:
    outcome = Outcome(0.9, 0.8, 0.95, Verdict.CANNOT_TELL, Reason.NO_TARGET)
    assert outcome_sentence(outcome).endswith(
        "No target is published for this way of treating, so there is no verdict."
    )


def test_every_reason_without_a_number_has_its_sentence() -> None:
    with_number = {
        Reason.TOO_FEW_TO_SAY_WORKED,
        Reason.RANGE_TOO_WIDE,
        Reason.STARTS_UNKNOWN,
        Reason.NO_TARGET,
    }
    assert set(_NO_NUMBER) == set(Reason) - with_number
    refused = Outcome(None, None, None, Verdict.NO_BEFORE_COUNT, Reason.NO_BEFORE_COUNT)
    assert outcome_sentence(refused) == _NO_NUMBER[Reason.NO_BEFORE_COUNT]


def test_what_settles_it_names_the_mites_or_more_colonies() -> None:
    few = Outcome(1.0, 0.8, 1.0, Verdict.CANNOT_TELL, mites_before=12, mites_needed=17)
    assert settle_sentence(few).startswith("To show that it worked, at least 17 mites must be found before")
    wide = Outcome(0.8, 0.5, 0.95, Verdict.CANNOT_TELL, mites_before=40, mites_needed=17)
    assert settle_sentence(wide).startswith("More colonies counted both times")
    never = Outcome(0.8, 0.5, 0.95, Verdict.CANNOT_TELL, mites_before=40, mites_needed=math.inf)
    assert settle_sentence(never) == settle_sentence(Outcome(1, 1, 1, Verdict.WORKED, mites_needed=17)) == ""


def test_words_are_complete_and_plain() -> None:
    assert set(VERDICT_WORDS) == set(Verdict) and set(NOTE_SENTENCES) == set(Note)
    texts = [*_NO_NUMBER.values(), *note_sentences(Note), too_early_sentence(True)]
    assert [text for text in texts for word in AVOIDED if word in text.lower().split()] == []
    assert len(set(texts)) == len(texts)  # no two reasons share a sentence
