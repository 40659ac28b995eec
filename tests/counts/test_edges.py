"""Where rules begin and end: each case stands at an edge, or is worked out by hand from the method's formula.

They were written for changes of the code that no other test minded.
"""

import math
from dataclasses import dataclass

import numpy as np
import pytest
from scipy import special, stats

from counts.action_levels import (
    Band,
    Level,
    LevelKind,
    LevelUnit,
    Standing,
    acts_on,
    bands_from_text,
    standing,
)
from counts.constants import DEFAULTS, Constant, Constants, Mark
from counts.estimate import (
    Prior,
    Refusal,
    Unit,
    chance_above,
    estimate_board,
    estimate_jar,
    rate_interval,
    rate_quantiles,
    yard_mean,
)
from counts.samples import (
    BeesBy,
    BoardSample,
    JarSample,
    Method,
    Problem,
    Question,
    problems_of,
    questions_about,
)


def jar(mites, bees=300, by=BeesBy.VOLUME, method=Method.ALCOHOL_WASH):
    return JarSample(mites, bees, by, method)


@pytest.mark.parametrize("c2", [0.0, 0.0536])
@pytest.mark.parametrize("prior", [None, Prior(0.01, 0.8)])
def test_quantiles_and_chances_tell_the_same_story(c2, prior):
    shares = np.array([0.025, 0.3, 0.5, 0.975])
    quantiles = rate_quantiles(9, 300, c2, shares, prior)

    assert [float(chance_above(9, 300, c2, one, prior)) for one in quantiles] == pytest.approx(1 - shares)


@pytest.mark.parametrize(
    ("mites", "exposure", "c2"), [(9, math.inf, 0.05), (math.inf, 300, 0.05), (9, 300, math.inf)]
)
def test_anything_endless_leaves_all_open(mites, exposure, c2):
    assert rate_interval(mites, exposure, c2) == (0.0, math.inf)
    assert chance_above(mites, exposure, c2, 0.03) == 0.5
    assert np.isinf(rate_quantiles(mites, exposure, c2, [0.5])).all()


@pytest.mark.parametrize(
    ("mites", "exposure", "c2"), [(-1, 300, 0.05), (9, 0, 0.05), (9, -1, 0.05), (9, 300, -0.1)]
)
def test_what_cannot_be_leaves_all_open(mites, exposure, c2):
    assert rate_interval(mites, exposure, c2) == (0.0, math.inf)
    assert chance_above(mites, exposure, c2, 0.03) == 0.5


def test_no_level_that_is_a_number_is_even_odds():
    assert chance_above(9, 300, 0.05, math.nan) == 0.5
    assert chance_above(9, 300, 0.05, -1.0) == 1.0


def by_hand(colonies_part, weight2, jars2, freedom, left_out):
    """c2 of a yard: colonies widened and not all sampled, and jars; within_c2 is .0536."""
    widened = (stats.t.ppf(0.975, freedom) / stats.norm.ppf(0.975)) ** 2
    return widened * colonies_part * left_out * weight2 + 0.0536 * jars2


@pytest.mark.parametrize(
    ("mites", "colonies", "expected"),
    [
        # chi2 .818182, seen -.033058, (4 x .8536 - .033058) / 5 - .0536 = .622668; ten of twelve not sampled
        ((4, 7), 12, by_hand(0.622668388, 0.5, 0.5, 5, 10 / 12)),
        # one mite in all: chi2 1, nothing seen beyond chance, 4 x .8536 / 5 - .0536 = .62928; no end of colonies
        ((1, 0), None, by_hand(0.62928, 0.5, 0.5, 5, 1.0)),
        # none at all: half a mite expected, chi2 .25, seen -4.5: nothing is left between colonies
        ((0, 0, 0), None, 0.0536 / 3),
        # as even as can be: chi2 0, seen -1 / 9, (4 x .8536 - 4 / 9) / 8 - .0536 = .317644
        ((9, 9, 9, 9, 9), None, by_hand(0.317644444, 0.2, 0.2, 8, 1.0)),
        # two mites in one colony of two: weight of the jars (4 - 2) / 4 = .5
        ((2, 0), None, by_hand((4 * 0.8536 + 1.0) / 5 - 0.0536, 0.5, 0.5, 5, 1.0)),
        # one colony: the usual spread, not widened
        ((6,), None, 0.8 + 0.0536),
        ((6,), 4, 0.8 * 3 / 4 + 0.0536),
    ],
)
def test_spread_of_a_yard_by_hand(mites, colonies, expected):
    said = yard_mean(mites, [300] * len(mites), colonies)

    assert said.c2 == pytest.approx(expected, rel=1e-6)


def test_chances_of_a_yard_are_not_widened():
    said = yard_mean([4, 7], [300, 300], 12)

    assert said.chance_c2 == pytest.approx(0.622668388 * 10 / 12 / 2 + 0.0536 / 2, rel=1e-6)
    assert said.chance_above(0.03) == float(chance_above(11, 600, said.chance_c2, 0.03))


def test_place_without_a_jar_changes_nothing():
    padded, plain = yard_mean([[3, 0, 12, 0]], [[310, 0, 295, 0]], 12), yard_mean([3, 12], [310, 295], 12)

    for name in ("rate", "low", "high", "c2", "chance_c2", "mites", "bees", "exposure", "colonies_sampled"):
        assert getattr(padded, name)[0] == pytest.approx(getattr(plain, name))
    assert (bool(padded.rough[0]), padded.reason[0]) == (True, None)


def test_yards_that_say_nothing_say_why():
    said = yard_mean([[9, 0], [0, 0], [4, 0], [-1, 2]], [[300, 0], [0, 0], [0, 0], [300, 300]], [5, 5, 5, 5])

    assert list(said.reason) == [
        Refusal.ONE_COLONY,
        Refusal.NO_BEES,
        Refusal.NOT_A_COUNT,
        Refusal.NOT_A_COUNT,
    ]
    assert list(said.rate[1:3]) == [0.0, 0.0]
    assert yard_mean([9], [300], 1).reason is None
    assert (yard_mean([9, 2], [300, 300], 2).rough, yard_mean([9, 2, 1], [300] * 3, 9).rough) == (
        False,
        False,
    )


def test_more_sampled_than_the_yard_is_said_to_have_is_all_of_it():
    assert yard_mean([3, 9, 4], [300] * 3, 2).c2 == pytest.approx(yard_mean([3, 9, 4], [300] * 3, 3).c2)


@pytest.mark.parametrize("mites", [0, 1])
def test_one_sided_is_said_at_no_mites_only(mites):
    assert (
        estimate_jar(jar(mites)).one_sided
        == estimate_board(BoardSample(mites, 3.0)).one_sided
        == (mites == 0)
    )
    assert yard_mean([mites, 0, 0], [300] * 3, 9).one_sided == (mites == 0)


@pytest.mark.parametrize(
    ("sample", "reason"),
    [
        (jar(-1), Refusal.NOT_A_COUNT),
        (jar(0, 0), Refusal.NO_BEES),
        (jar(0, 1), Refusal.FEW_BEES),
        (jar(0, 49), Refusal.FEW_BEES),
        (jar(0, 50), None),
    ],
)
def test_jar_at_its_edges(sample, reason):
    said = estimate_jar(sample)

    assert said.reason is reason
    assert said.mites == max(sample.mites, 0)
    assert (said.rate is None) == (reason is not None)


def test_jar_keeps_what_it_was_worked_out_from():
    said = estimate_jar(jar(9))

    assert said.exposure == pytest.approx(285.0)
    assert said.c2 == pytest.approx(1.01 * 1.04 * (1 + (0.03 / 0.95) ** 2) - 1)
    assert (said.unit, said.mites, said.bees, said.days, said.rough, said.corrected) == (
        *(Unit.PER_BEE, 9, 300, None),
        *(False, True),
    )
    assert [estimate_jar(jar(1, bees)).rough for bees in (99, 100)] == [True, False]


def test_board_keeps_what_it_was_worked_out_from():
    known = Constants(board_detection=Constant(0.9, Mark.CHOICE, "debris hides some", 0.08))
    said = estimate_board(BoardSample(23, 3.0, 0.5), known)

    assert said.exposure == pytest.approx(3 * 0.5 * 0.9)
    assert said.c2 == pytest.approx(0.09 / 3 + 0.095**2 + (0.08 / 0.9) ** 2)
    assert (said.rate, said.corrected, said.days) == (pytest.approx(23 / 1.35), True, 3.0)
    assert not estimate_board(BoardSample(23, 3.0)).corrected


@pytest.mark.parametrize(
    ("sample", "reason", "rough"),
    [
        (BoardSample(0, 0.5), None, False),
        (BoardSample(0, 0.49), Refusal.SHORT_BOARD, False),
        (BoardSample(0, 0.0), Refusal.NO_DAYS, False),
        (BoardSample(0, 7.0), None, False),
        (BoardSample(0, 7.1), None, True),
        (BoardSample(20, 3.0, 0.11), None, True),
        (BoardSample(20, 3.0, 0.109), Refusal.SMALL_SHARE, False),
        (BoardSample(20, 3.0, 0.33), None, False),
        (BoardSample(19, 3.0, 0.99), Refusal.FEW_MITES_ON_PART, False),
        (BoardSample(20, 3.0, 0.0), Refusal.NOT_A_COUNT, False),
        (BoardSample(20, 3.0, 1.01), Refusal.NOT_A_COUNT, False),
        (BoardSample(-1, 3.0), Refusal.NOT_A_COUNT, False),
    ],
)
def test_board_at_its_edges(sample, reason, rough):
    said = estimate_board(sample)

    assert (said.reason, said.rough) == (reason, rough)


@pytest.mark.parametrize(
    ("sample", "questions"),
    [
        (jar(46, 301), (Question.MANY_MITES,)),
        (jar(45, 300), ()),
        (jar(301, 301), (Question.MANY_MITES,)),
        (jar(302, 301), (Question.MORE_MITES_THAN_BEES,)),
        (jar(1, 50), ()),
        (jar(1, 1000), ()),
        *((jar(1, bees, BeesBy.COUNTED), (Question.ROUND_BEES_COUNTED,)) for bees in (100, 150, 300)),
        *((jar(1, bees, BeesBy.COUNTED), ()) for bees in (99, 101, 149, 151, 200, 299, 301)),
        (BoardSample(1, 3.0, 0.11), ()),
        (BoardSample(1, 7.01), (Question.LONG_BOARD,)),
    ],
)
def test_questions_at_their_edges(sample, questions):
    assert questions_about(sample) == questions


@pytest.mark.parametrize(
    ("sample", "problems"),
    [
        (jar(0, 1), ()),
        (jar(3, 1), ()),
        (jar(4, 1), (Problem.MITES_IMPOSSIBLE,)),
        (jar(0, 0), (Problem.BEES_NOT_POSITIVE,)),
        (jar(-1, 0), (Problem.MITES_NOT_WHOLE, Problem.BEES_NOT_POSITIVE)),
        (BoardSample(0, 0.01, 1.0), ()),
        (BoardSample(0, math.inf, 1.0), (Problem.DAYS_NOT_POSITIVE,)),
        (BoardSample(0, 0.0, 0.0), (Problem.DAYS_NOT_POSITIVE, Problem.SHARE_NOT_POSSIBLE)),
        (BoardSample(0, 1.0, 1.001), (Problem.SHARE_NOT_POSSIBLE,)),
    ],
)
def test_problems_at_their_edges(sample, problems):
    assert problems_of(sample) == problems


def level(unit, act_at, kind=LevelKind.JAR, inclusive=True):
    return Level("k", "an issuer", "a region", kind, unit, act_at, inclusive, "published", "a source")


@pytest.mark.parametrize(
    ("unit", "amount"),
    [
        (LevelUnit.PER_100_BEES, 100),
        (LevelUnit.PER_10_G, 100),
        (LevelUnit.PER_50_G, 500),
        (LevelUnit.PER_DAY, 1),
        (LevelUnit.PER_2_DAYS, 2),
        (LevelUnit.PERCENT_CELLS, 100),
    ],
)
def test_level_in_its_own_unit_and_as_a_rate(unit, amount):
    one = level(unit, 6.0)

    assert one.act_rate == 6.0 / amount
    assert one.in_unit(one.act_rate) == 6.0
    assert level(unit, None).act_rate is None


@dataclass
class Sure:
    """An estimate that is so sure."""

    chance: float
    unit: Unit = Unit.PER_BEE
    comparable: bool = True

    def chance_above(self, action_level, prior=None):
        return self.chance


@pytest.mark.parametrize(
    ("chance", "expected"),
    [
        (0.75, Standing.ABOVE),
        (0.749, Standing.EITHER_SIDE),
        (0.25, Standing.BELOW),
        (0.251, Standing.EITHER_SIDE),
    ],
)
def test_standing_at_its_edges(chance, expected):
    assert standing(Sure(chance), level(LevelUnit.PER_100_BEES, 3.0), certain_at=0.75) is expected


def test_standing_without_what_it_needs():
    bar = level(LevelUnit.PER_100_BEES, 3.0)

    assert standing(Sure(0.99, comparable=False), bar) is Standing.NOT_ENOUGH
    assert standing(Sure(0.99, unit=Unit.PER_DAY), bar) is Standing.NOT_ENOUGH
    assert standing(Sure(0.99), level(LevelUnit.PER_100_BEES, None)) is Standing.NOT_ENOUGH
    assert (
        standing(Sure(0.99), level(LevelUnit.PERCENT_CELLS, 3.0, LevelKind.DRONE_BROOD))
        is Standing.NOT_ENOUGH
    )


@pytest.mark.parametrize(
    ("inclusive", "expected"), [(True, [False, True, True]), (False, [False, False, True])]
)
def test_acting_on_values_around_the_level(inclusive, expected):
    one = level(LevelUnit.PER_DAY, 5.0, LevelKind.BOARD, inclusive)

    assert [acts_on(one, value) for value in (4.9, 5.0, 5.1)] == expected


def test_band_holds_its_ends_as_told():
    assert [Band("b", 1, 2).holds(value) for value in (0.9, 1, 1.5, 2, 2.1)] == [
        False,
        True,
        True,
        False,
        False,
    ]
    other = Band("b", 1, 2, low_inclusive=False, high_inclusive=True)
    assert [other.holds(value) for value in (0.9, 1, 1.5, 2, 2.1)] == [False, False, True, True, False]


def test_bands_read_from_text_have_their_ends_on_the_right_side():
    ok, watch, act, lost = bands_from_text("ok:0-5;watch:5-10;act:10-30;lost:30-", 10.0, False)

    assert [(one.low_inclusive, one.high_inclusive) for one in (ok, watch, act, lost)] == [
        *((True, False), (True, True)),
        *((False, True), (False, True)),
    ]
    assert (lost.low, lost.high) == (30.0, math.inf)
    assert bands_from_text("", None, False) == ()


def test_limits_meet_the_beta_of_scipy_on_both_tails():
    k = 1 / DEFAULTS.board_day_cv.value
    low, high = rate_interval(400, 1.0, 1 / k)
    y = special.betaincinv(400.5, k, [0.025, 0.975])

    assert (low, high) == pytest.approx(tuple(k * y / (1 - y)), rel=1e-9)
