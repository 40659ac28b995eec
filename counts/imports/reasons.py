"""Why a row of a sheet is not simply ready, as values that can be kept and said in any language. Pure."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum

from apiaries.language import day_words, figure, mark, say
from counts.imports.columns import Column
from counts.samples import BeesBy, BoardSample, JarSample, Method, Problem, Question
from counts.sentences import PROBLEM_SENTENCES, question_sentence


class Status(StrEnum):
    """What becomes of a row."""

    READY = "ready"
    LOOK = "look"
    ERROR = "error"
    HERE = "here"


class Kind(StrEnum):
    """What is odd about a row, apart from what is odd about any count (`Problem`, `Question`)."""

    DAY_MISSING = "day_missing"
    DAY_NOT_READ = "day_not_read"
    DAY_TWO_MEANINGS = "day_two_meanings"
    DAY_TOO_EARLY = "day_too_early"
    DAY_TAKEN = "day_taken"
    METHOD_MISSING = "method_missing"
    METHOD_UNKNOWN = "method_unknown"
    NOT_WHOLE = "not_whole"
    NOT_A_NUMBER = "not_a_number"
    TOO_BIG = "too_big"
    BEES_MISSING = "bees_missing"
    BEES_TWICE = "bees_twice"
    BOARD_WITH_BEES = "board_with_bees"
    TWO_COUNTS = "two_counts"
    PERCENT_ALONE = "percent_alone"
    PERCENT_NOT_WHOLE = "percent_not_whole"
    PERCENT_OPEN = "percent_open"
    PER_DAY_NOT_WHOLE = "per_day_not_whole"
    DAYS_MISSING = "days_missing"
    DAYS_RANGE = "days_range"
    DAYS_FINE = "days_fine"
    CELLS_PAIR = "cells_pair"
    CELLS_PART = "cells_part"
    CELLS_MISSING = "cells_missing"
    TREATED_NOT_READ = "treated_not_read"
    YARD_MISSING = "yard_missing"
    YARD_UNKNOWN = "yard_unknown"
    YARD_TWICE = "yard_twice"
    YARD_SHUT = "yard_shut"
    COLONY_MISSING = "colony_missing"
    COLONY_UNKNOWN = "colony_unknown"
    COLONY_TWICE = "colony_twice"
    NOTE_CUT = "note_cut"
    NOT_COUNTED = "not_counted"
    NONE_WORD = "none_word"
    PERCENT_ROUNDED = "percent_rounded"
    PERCENT_DIFFERS = "percent_differs"
    TREATED_UNKNOWN = "treated_unknown"
    SAME_DAY = "same_day"
    SAME_DAY_IN_SHEET = "same_day_in_sheet"
    EARLY = "early"
    GONE = "gone"
    BROOD_NOT_READ = "brood_not_read"
    HERE = "already_here"
    SAME_ROW = "same_row"


SENTENCES: Mapping[str, str] = {
    Kind.DAY_MISSING: mark("The date is missing."),
    Kind.DAY_NOT_READ: mark("“{text}” is no date. Write it like 12 Aug 2026 or 2026-08-12."),
    Kind.DAY_TWO_MEANINGS: mark(
        "“{text}” can be {one} or {two}. Say whether the day or the month comes first."
    ),
    Kind.DAY_TOO_EARLY: mark("“{text}” is too long ago. Enter a year after 1900."),
    Kind.DAY_TAKEN: mark("“{text}” is taken as {day}. Is the date right?"),
    Kind.METHOD_MISSING: mark("The method is missing. Fill it in, or name one for the whole sheet."),
    Kind.METHOD_UNKNOWN: mark("“{text}” is no method known here, such as alcohol wash or board."),
    Kind.NOT_WHOLE: mark("“{text}” is not a whole number."),
    Kind.NOT_A_NUMBER: mark("“{text}” is not a number."),
    Kind.TOO_BIG: mark("Enter a number up to {most}."),
    Kind.BEES_MISSING: mark(
        "The number of bees is missing. Fill it in, or name a measure for the whole sheet."
    ),
    Kind.BEES_TWICE: mark("{bees} bees here, but {other} beside the mites. Which is right?"),
    Kind.BOARD_WITH_BEES: mark("“{text}” names bees, but a board has none. Enter the mites alone."),
    Kind.TWO_COUNTS: mark("This row has two counts, one of bees and one of a board. Write them in two rows."),
    Kind.PERCENT_ALONE: mark(
        "A percentage alone is no count. Fill in how many bees there were, or the number of mites."
    ),
    Kind.PERCENT_NOT_WHOLE: mark(
        "{text} % of {bees} bees is no whole number of mites. Fill in the number of mites."
    ),
    Kind.PERCENT_OPEN: mark(
        "{text} % of {bees} bees can be {low} to {high} mites. Fill in the number of mites."
    ),
    Kind.PER_DAY_NOT_WHOLE: mark(
        "{text} mites a day in {days} days is no whole number of mites. Fill in the number of mites."
    ),
    Kind.DAYS_MISSING: mark("Enter how many days the board was in the hive. It must be more than 0."),
    Kind.DAYS_RANGE: mark("The days of a board must be more than 0 and less than 100."),
    Kind.DAYS_FINE: mark("Enter the days with at most one decimal, such as 3 or 2.5."),
    Kind.CELLS_PAIR: mark("Enter both the cells counted and all cells of the board, or neither."),
    Kind.CELLS_PART: mark("The cells counted must be at least 1 and at most the cells on the board."),
    Kind.CELLS_MISSING: mark("Enter how many drone cells were opened."),
    Kind.TREATED_NOT_READ: mark("“{text}” is neither yes nor no."),
    Kind.YARD_MISSING: mark("The yard is missing. Say which yard the sheet is about."),
    Kind.YARD_UNKNOWN: mark("There is no yard called {text} that you may log counts in. Say which it is."),
    Kind.YARD_TWICE: mark("There is more than one yard called {text}. Say which it is."),
    Kind.YARD_SHUT: mark("Whoever imports may not log counts in {text}."),
    Kind.COLONY_MISSING: mark("The colony is missing."),
    Kind.COLONY_UNKNOWN: mark("No colony {text} stood in {yard} on that day. Add it there first."),
    Kind.COLONY_TWICE: mark("More than one colony {text} is known in {yard}."),
    Kind.NOTE_CUT: mark(
        "The note is longer than {most} characters; what comes after them would be left out."
    ),
    Kind.NOT_COUNTED: mark("No mites entered: taken as not counted. Enter 0 if none were found."),
    Kind.NONE_WORD: mark("“{text}”: were none found (0), or was it not counted? Agree if none were found."),
    Kind.PERCENT_ROUNDED: mark(
        "{text} % of {bees} bees is {mites} mites; if it was rounded, {low} to {high}. Agree if it was {mites}."
    ),
    Kind.PERCENT_DIFFERS: mark("The sheet says {text} %, but {mites} mites of {bees} bees is another share."),
    Kind.TREATED_UNKNOWN: mark(
        "Was a treatment in the hive while the board lay? The sheet does not say. Agree if there was none."
    ),
    Kind.SAME_DAY: mark(
        "Colony {colony} already has this method's count of {day}, with {mites} mites. Is this one more count?"
    ),
    Kind.SAME_DAY_IN_SHEET: mark(
        "Row {row} is the same colony, day and method with other numbers. Is this one more count?"
    ),
    Kind.EARLY: mark(
        "Colony {colony} is noted as here only after {day}. Is the date right? "
        "If yes, it and the colonies noted together with it are here since then."
    ),
    Kind.GONE: mark("Colony {colony} is noted as gone before {day}. Is the date right?"),
    Kind.BROOD_NOT_READ: mark("“{text}” is none of: none, some, plenty. Agree to leave the brood open."),
    Kind.HERE: mark("This count is here already."),
    Kind.SAME_ROW: mark("The same as row {row}."),
    **{str(problem): sentence for problem, sentence in PROBLEM_SENTENCES.items()},
}
"""Whole sentences with places for the values of the reason."""

SHORT: Mapping[str, str] = {
    Kind.DAY_MISSING: mark("date missing"),
    Kind.DAY_NOT_READ: mark("date not understood"),
    Kind.DAY_TWO_MEANINGS: mark("date with two meanings"),
    Kind.DAY_TOO_EARLY: mark("date too long ago"),
    Kind.DAY_TAKEN: mark("date to be checked"),
    Kind.METHOD_MISSING: mark("method missing"),
    Kind.METHOD_UNKNOWN: mark("method not known"),
    Kind.NOT_WHOLE: mark("not a whole number"),
    Kind.NOT_A_NUMBER: mark("not a number"),
    Kind.TOO_BIG: mark("number too big"),
    Kind.BEES_MISSING: mark("bees missing"),
    Kind.BEES_TWICE: mark("two numbers of bees"),
    Kind.BOARD_WITH_BEES: mark("bees beside a board"),
    Kind.TWO_COUNTS: mark("two counts in one row"),
    Kind.PERCENT_ALONE: mark("percentage without bees"),
    Kind.PERCENT_NOT_WHOLE: mark("percentage that is no number of mites"),
    Kind.PERCENT_OPEN: mark("percentage that can be several numbers"),
    Kind.PER_DAY_NOT_WHOLE: mark("drop per day that is no number of mites"),
    Kind.DAYS_MISSING: mark("days of the board missing"),
    Kind.DAYS_RANGE: mark("days of the board not possible"),
    Kind.DAYS_FINE: mark("days with too many decimals"),
    Kind.CELLS_PAIR: mark("one number of cells missing"),
    Kind.CELLS_PART: mark("cells not possible"),
    Kind.CELLS_MISSING: mark("drone cells missing"),
    Kind.TREATED_NOT_READ: mark("treatment neither yes nor no"),
    Kind.YARD_MISSING: mark("yard missing"),
    Kind.YARD_UNKNOWN: mark("yard not known"),
    Kind.YARD_TWICE: mark("two yards of that name"),
    Kind.YARD_SHUT: mark("yard you may not count in"),
    Kind.COLONY_MISSING: mark("colony missing"),
    Kind.COLONY_UNKNOWN: mark("colony not known"),
    Kind.COLONY_TWICE: mark("two colonies of that name"),
    Kind.NOTE_CUT: mark("note too long"),
    Kind.NOT_COUNTED: mark("not counted"),
    Kind.NONE_WORD: mark("a word in place of a number"),
    Kind.PERCENT_ROUNDED: mark("rounded percentage"),
    Kind.PERCENT_DIFFERS: mark("percentage that does not fit"),
    Kind.TREATED_UNKNOWN: mark("board without a word on treatment"),
    Kind.SAME_DAY: mark("one more count of that day"),
    Kind.SAME_DAY_IN_SHEET: mark("two counts of one day in the sheet"),
    Kind.EARLY: mark("before the colony was noted"),
    Kind.GONE: mark("after the colony was gone"),
    Kind.BROOD_NOT_READ: mark("brood not understood"),
    Kind.HERE: mark("already here"),
    Kind.SAME_ROW: mark("the same row twice"),
    Problem.MITES_NOT_WHOLE: mark("mites not a whole number"),
    Problem.BEES_NOT_POSITIVE: mark("no bees"),
    Problem.MITES_IMPOSSIBLE: mark("more than 3 mites for each bee"),
    Problem.DAYS_NOT_POSITIVE: mark("days of the board not possible"),
    Problem.SHARE_NOT_POSSIBLE: mark("cells not possible"),
    Problem.MORE_MITES_THAN_CELLS: mark("more mites than drone cells"),
    Problem.IN_THE_FUTURE: mark("date still to come"),
    Question.MORE_MITES_THAN_BEES: mark("more mites than bees"),
    Question.MANY_MITES: mark("very many mites"),
    Question.FEW_BEES: mark("few bees"),
    Question.MANY_BEES: mark("very many bees"),
    Question.ROUND_BEES_COUNTED: mark("round number of bees"),
    Question.SHORT_BOARD: mark("board of a few hours"),
    Question.LONG_BOARD: mark("board of many days"),
    Question.SMALL_SHARE: mark("small part of the board"),
}
"""The same in a few words, for a list that says how many rows each is about."""


@dataclass(frozen=True, slots=True)
class Reason:
    """One thing about a row: the column it stands in ("" for the row as a whole), what it is, and its values."""

    column: Column | str
    kind: str
    values: Mapping[str, str | int] = field(default_factory=dict)

    def stored(self) -> list[object]:
        """As JSON: column, kind, values."""
        return [str(self.column), str(self.kind), dict(self.values)]


def reason_from(stored: list[object]) -> Reason:
    """A reason as it was stored."""
    column, kind, values = stored
    return Reason(str(column), str(kind), values if isinstance(values, dict) else {})


def sentence_of(reason: Reason) -> str:
    """The reason in a whole sentence, in the reader's language."""
    if reason.kind in set(Question):
        return question_sentence(Question(reason.kind), _sample_in(reason.values))
    values = {name: _shown(name, value) for name, value in reason.values.items()}
    return say(SENTENCES[reason.kind], **values)


def short_of(kind: str) -> str:
    """The kind of reason in a few words."""
    return say(SHORT[kind])


def about(question: Question, sample: JarSample | BoardSample) -> Reason:
    """A question about the numbers of a count, with what is needed to say it again."""
    if isinstance(sample, BoardSample):
        return Reason(Column.DAYS, question, {"days": str(sample.days)})
    return Reason(Column.MITES, question, {"mites": sample.mites, "bees": sample.bees})


def _sample_in(values: Mapping[str, str | int]) -> JarSample | BoardSample:
    if "days" in values:
        return BoardSample(0, float(values["days"]))
    return JarSample(int(values["mites"]), int(values["bees"]), BeesBy.NOMINAL, Method.ALCOHOL_WASH)


def _shown(name: str, value: str | int) -> str:
    """Days by their month's name, numbers with the marks of the language; what was typed stays as it was typed."""
    if name in ("day", "one", "two"):
        return day_words(dt.date.fromisoformat(str(value)))
    if isinstance(value, int) and name != "row":
        return figure(f"{value:,}")
    return figure(str(Decimal(value))) if name == "days" else str(value)
