"""The sentences a keeper reads about a treatment: verdict, why, what would settle it. Pure.

Shares are whole per cent; the ends of a range are rounded outward, so that words never claim more than the sums.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from enum import StrEnum

from apiaries.language import figure, mark, say, say_many
from treatments._verdicts import Drop, Outcome, Reason, Verdict

VERDICT_WORDS = {
    Verdict.WORKED: mark("Worked"),
    Verdict.FELL_SHORT: mark("Fell short"),
    Verdict.DID_NOT_WORK: mark("Did not work"),
    Verdict.CANNOT_TELL: mark("Can't tell yet"),
    Verdict.TOO_EARLY: mark("Too early"),
    Verdict.NO_BEFORE_COUNT: mark("No before-count"),
}


class Note(StrEnum):
    """Something known about the counts or the yard that could have moved the answer."""

    BROOD_PRESENT = "brood_present"
    COUNTED_LATE = "counted_late"
    SOME_NOT_COUNTED = "some_not_counted"
    OTHER_TREATMENT = "other_treatment"
    MOVED = "moved"
    SPLIT = "split"
    UNITED = "united"
    REQUEENED = "requeened"
    OTHERS_UNTREATED = "others_untreated"


NOTE_SENTENCES = {
    Note.BROOD_PRESENT: mark(
        "Brood was seen when colonies were counted. Oxalic acid does not reach mites under cappings."
    ),
    Note.COUNTED_LATE: mark(
        "Some after-counts were made later than planned. Mites that grew or came in since are in them."
    ),
    Note.SOME_NOT_COUNTED: mark(
        "Not every treated colony was counted both times. The range allows for the others."
    ),
    Note.OTHER_TREATMENT: mark(
        "Another treatment was in the hive between the counts. The drop is that of both together."
    ),
    Note.MOVED: mark("A colony was counted in another yard. What stands around it there can matter."),
    Note.SPLIT: mark(
        "A colony was split between its two counts. A split takes bees and brood away with their mites, and what "
        "stayed need not have as many per bee: the drop is not that of the treatment alone."
    ),
    Note.UNITED: mark(
        "Another colony was united with one of these between its two counts. They are counts of different bees, so "
        "that colony is left out."
    ),
    Note.REQUEENED: mark(
        "A colony got another queen between its two counts. Days without brood bring mites onto the bees: the drop is "
        "not that of the treatment alone."
    ),
    Note.OTHERS_UNTREATED: mark(
        "Colonies without this treatment stand in the same yard. Mites can come over from them."
    ),
}

OF_BEES = (Note.SPLIT, Note.UNITED, Note.REQUEENED)
"""What the page says before anybody asks why: these counts may not be of the same bees."""

CONFOUNDERS = (
    mark(
        "Brood: mites under cappings are out of reach of most treatments, and come out with the young bees."
    ),
    mark(
        "Temperature: acids and thymol give off too little when it is too cold, and harm bees when it is too hot."
    ),
    mark("Dose: less than the label says, or an uneven share among the boxes."),
    mark("Timing: rounds too far apart, strips out too early, or a count outside its days."),
    mark("Supers: where they were on, the dose had more room to fill."),
    mark(
        "Mites from elsewhere: one count does not tell where they came from. A second one soon shows how fast they "
        "rise."
    ),
    mark(
        "The ingredient: mites can bear it better where it was used year after year. Your club or inspector knows more."
    ),
)
"""What else moves the counts (common practice, no source)."""

PICKED_HIGH = mark(
    "Only the colonies with the highest counts were treated. Such counts fall by themselves, by a tenth to a third "
    "in simulations, so the treatment did less than the drop shows."
)

_NO_NUMBER = {
    Reason.NO_BEFORE_COUNT: mark(
        "No treated colony was counted shortly before the first dose, so there is nothing to compare with. "
        "An after-count still shows where the colonies stand now."
    ),
    Reason.NO_AFTER_COUNT: mark(
        "There is no after-count yet. Count the same colonies again, in the same way."
    ),
    Reason.TOO_EARLY: mark("It is too early to tell. The days of the recount are still to come."),
    Reason.NOT_A_COUNT: mark(
        "These counts can't have been made as written, so nothing can be said from them."
    ),
    Reason.NOT_PAIRED: mark(
        "The colonies counted after are not those counted before, so they can't be compared."
    ),
    Reason.DIFFERENT_METHODS: mark(
        "Before and after were counted in different ways, and those can't be compared. Count again as before."
    ),
    Reason.TOO_FEW_BEES: mark("One of the jars held too few bees to compare. Count about 300."),
    Reason.BOARD_TOO_SHORT: mark("One of the boards lay too short to compare. Leave it for at least 3 days."),
    Reason.NO_MITES_BEFORE: mark("No mites were found before the treatment, so no drop can show."),
    Reason.FEW_MITES_BEFORE: mark("Fewer than 5 mites were found before: too few to see any drop."),
    Reason.NO_MITES_IN_CONTROLS: mark(
        "Too few mites were found in the untreated colonies to compare with them."
    ),
    Reason.TOO_FAR_APART: mark(
        "The two counts are too far apart: what grew or came in meanwhile can't be told apart."
    ),
}
_JUDGED = {
    Verdict.WORKED: mark("That fits the target of {aim}."),
    Verdict.FELL_SHORT: mark("That is a good part of the way, but below the target of {aim}."),
    Verdict.DID_NOT_WORK: mark("The whole range lies below the target of {aim}, and it may be far below."),
}

COUNTED_TOO_EARLY = mark(
    "The colonies were counted before the treatment could show. Count again once the recount is due."
)


def outcome_sentence(outcome: Outcome, target: float | None = None) -> str:
    """The answer in one or two plain sentences; `target` as a part of 1 where a bar is published."""
    if outcome.drop is None or outcome.low is None or outcome.high is None:
        return say(_NO_NUMBER.get(outcome.reason or Reason.NOT_A_COUNT, _NO_NUMBER[Reason.NOT_A_COUNT]))
    drop = drop_words(Drop(outcome.drop, outcome.low, outcome.high))
    if outcome.reason is Reason.NO_TARGET or target is None:
        none = say("No target is published for this way of treating, so there is no verdict.")
        return f"{drop} {none}"
    return f"{drop} {_against(outcome, per_cent(target))}"


def _against(outcome: Outcome, aim: str) -> str:
    if outcome.verdict in _JUDGED:
        return say(_JUDGED[outcome.verdict], aim=aim)
    if outcome.reason is Reason.TOO_FEW_TO_SAY_WORKED:
        return say_many(
            "That looks good, but {n} mite before are too few to show a target of {aim}.",
            "That looks good, but {n} mites before are too few to show a target of {aim}.",
            outcome.mites_before,
            aim=aim,
        )
    return say("The range is too wide to say whether it reached the target of {aim}.", aim=aim)


def drop_words(drop: Drop) -> str:
    """The range in words; a rise is told as a rise, never cut off at 0."""
    low, high = _down(drop.low), _up(drop.high)
    if high <= 0:
        least, most = _signed(-high), _signed(-low)
        return say("Mites did not drop: they rose by between {least} and {most} %.", least=least, most=most)
    if low < 0:
        return say("The drop in mites is at most {high} %, and mites may even have risen.", high=high)
    if low == high:
        return say("The drop in mites is about {low} %.", low=low)
    return say("The drop in mites is between {low} and {high} %.", low=low, high=high)


def range_words(drop: Drop) -> str:
    """The 90 % range as a table shows it: 87 to 99 %."""
    return say("{low} to {high} %", low=_signed(_down(drop.low)), high=_signed(_up(drop.high)))


def per_cent(share: float) -> str:
    """A share as whole per cent, halves up: 95 %."""
    return f"{_signed(math.floor(share * 100 + 0.5 + 1e-9))} %"


def settle_sentence(outcome: Outcome) -> str:
    """What would settle it next time; empty where nothing more is needed."""
    if outcome.verdict is not Verdict.CANNOT_TELL or outcome.mites_needed is None:
        return ""
    needed = outcome.mites_needed
    if math.isinf(needed):
        return ""
    if outcome.mites_before < needed:
        return say_many(
            "To show that it worked, at least {n} mite must be found before the treatment, in all colonies together. "
            "Here it was {found}: count more colonies, or more bees.",
            "To show that it worked, at least {n} mites must be found before the treatment, in all colonies together. "
            "Here it was {found}: count more colonies, or more bees.",
            int(needed),
            found=_signed(outcome.mites_before),
        )
    return say(
        "More colonies counted both times would narrow the range. So does counting the bees one by one."
    )


def too_early_sentence(counted_early: bool) -> str:
    """Why it is too early: nobody counted yet, or somebody counted too soon."""
    return say(COUNTED_TOO_EARLY if counted_early else _NO_NUMBER[Reason.TOO_EARLY])


def note_sentences(notes: Iterable[Note]) -> list[str]:
    """What is known that could have moved the answer, in words."""
    return [say(NOTE_SENTENCES[note]) for note in notes]


def _down(share: float) -> int:
    return math.floor(max(share, -999.0) * 100 + 1e-9)


def _up(share: float) -> int:
    return math.ceil(min(share, 1.0) * 100 - 1e-9)


def _signed(number: int) -> str:
    return figure(f"{number:,}".replace("-", "\N{MINUS SIGN}"))


__all__ = [
    "CONFOUNDERS",
    "NOTE_SENTENCES",
    "PICKED_HIGH",
    "VERDICT_WORDS",
    "Note",
    "drop_words",
    "note_sentences",
    "outcome_sentence",
    "per_cent",
    "range_words",
    "settle_sentence",
    "too_early_sentence",
]
