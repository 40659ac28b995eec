"""What was counted, as plain values, and what is odd or impossible about it. Pure.

Two lists: `problems_of` names what cannot have happened (such a count is not kept); `questions_about` names
what is unusual enough to ask the keeper once more (the answer is theirs: real counts of 73 in 300 exist).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from counts.constants import DEFAULTS, Constants


class Method(StrEnum):
    """How mites were counted."""

    ALCOHOL_WASH = "alcohol_wash"
    SOAP_WASH = "soap_wash"
    SUGAR_ROLL = "sugar_roll"
    CO2 = "co2"
    BOARD = "board"
    DRONE_BROOD = "drone_brood"


class BeesBy(StrEnum):
    """How the bees in the jar were measured."""

    COUNTED = "counted"
    VOLUME = "volume"
    NOMINAL = "nominal"


class Kind(StrEnum):
    """Methods that may be compared with each other; counts of two kinds are never mixed."""

    WASH = "wash"
    ROLL = "roll"
    BOARD = "board"
    DRONE_BROOD = "drone_brood"


_KINDS = {
    Method.ALCOHOL_WASH: Kind.WASH,
    Method.SOAP_WASH: Kind.WASH,
    Method.SUGAR_ROLL: Kind.ROLL,
    Method.CO2: Kind.ROLL,
    Method.BOARD: Kind.BOARD,
    Method.DRONE_BROOD: Kind.DRONE_BROOD,
}

JAR_KINDS = frozenset({Kind.WASH, Kind.ROLL})
"""Kinds that count mites on adult bees in a jar."""


def kind_of(method: Method) -> Kind:
    """The kind a method belongs to."""
    return _KINDS[method]


@dataclass(frozen=True, slots=True)
class JarSample:
    """Mites found on the bees of one jar."""

    mites: int
    bees: int
    bees_by: BeesBy
    method: Method


@dataclass(frozen=True, slots=True)
class BoardSample:
    """Mites found on a board, or on `share_counted` of its cells, after `days` under the colony."""

    mites: int
    days: float
    share_counted: float = 1.0


class Problem(StrEnum):
    """Why a count cannot have happened as written. The last two are for callers that know dates and cells."""

    MITES_NOT_WHOLE = "mites_not_whole"
    BEES_NOT_POSITIVE = "bees_not_positive"
    MITES_IMPOSSIBLE = "mites_impossible"
    DAYS_NOT_POSITIVE = "days_not_positive"
    SHARE_NOT_POSSIBLE = "share_not_possible"
    MORE_MITES_THAN_CELLS = "more_mites_than_cells"
    IN_THE_FUTURE = "in_the_future"


class Question(StrEnum):
    """What to ask the keeper to look at again before the count is kept."""

    MORE_MITES_THAN_BEES = "more_mites_than_bees"
    MANY_MITES = "many_mites"
    FEW_BEES = "few_bees"
    MANY_BEES = "many_bees"
    ROUND_BEES_COUNTED = "round_bees_counted"
    SHORT_BOARD = "short_board"
    LONG_BOARD = "long_board"
    SMALL_SHARE = "small_share"


NOMINAL_BEES = frozenset({100, 150, 300})
"""Numbers that usually are a measure's nominal content, not a count (common practice, no source)."""


def problems_of(sample: JarSample | BoardSample, constants: Constants = DEFAULTS) -> tuple[Problem, ...]:
    """Why the sample is refused; empty if it may be kept."""
    found = [] if _whole(sample.mites) else [Problem.MITES_NOT_WHOLE]
    if isinstance(sample, JarSample):
        if not sample.bees > 0:
            found.append(Problem.BEES_NOT_POSITIVE)
        elif sample.mites > constants.jar_rate_max.value * sample.bees:
            found.append(Problem.MITES_IMPOSSIBLE)
        return tuple(found)
    if not (sample.days > 0 and math.isfinite(sample.days)):
        found.append(Problem.DAYS_NOT_POSITIVE)
    if not 0 < sample.share_counted <= 1:
        found.append(Problem.SHARE_NOT_POSSIBLE)
    return tuple(found)


def questions_about(sample: JarSample | BoardSample, constants: Constants = DEFAULTS) -> tuple[Question, ...]:
    """What is unusual about the sample; empty if nothing is, or if it is refused anyway."""
    if problems_of(sample, constants):
        return ()
    asked = (
        _jar_questions(sample, constants)
        if isinstance(sample, JarSample)
        else _board_questions(sample, constants)
    )
    return tuple(question for question, unusual in asked.items() if unusual)


def _whole(mites: float) -> bool:
    return mites >= 0 and math.isfinite(mites) and mites == int(mites)


def _jar_questions(jar: JarSample, constants: Constants) -> dict[Question, bool]:
    rate = jar.mites / jar.bees
    return {
        Question.MORE_MITES_THAN_BEES: rate > 1,
        Question.MANY_MITES: constants.jar_rate_asked.value < rate <= 1,
        Question.FEW_BEES: jar.bees < constants.jar_bees_min.value,
        Question.MANY_BEES: jar.bees > constants.jar_bees_asked.value,
        Question.ROUND_BEES_COUNTED: jar.bees_by is BeesBy.COUNTED and jar.bees in NOMINAL_BEES,
    }


def _board_questions(board: BoardSample, constants: Constants) -> dict[Question, bool]:
    return {
        Question.SHORT_BOARD: board.days < constants.board_days_min.value,
        Question.LONG_BOARD: board.days > constants.board_days_max.value,
        Question.SMALL_SHARE: board.share_counted < constants.board_share_min.value,
    }
