"""Estimates against reference programs: every expected number stands beside the call that produced it."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from scipy import optimize, stats
from statsmodels.stats.proportion import proportion_confint

from counts.constants import DEFAULTS, METHOD_VERSION
from counts.estimate import (
    Prior,
    Refusal,
    Unit,
    chance_above,
    combined_c2,
    estimate_board,
    estimate_jar,
    rate_interval,
)
from counts.samples import BeesBy, BoardSample, JarSample, Method

EXAMPLES = Path(__file__).parents[2] / "fixtures" / "worked_examples"


def numbers(text):
    return {name: float(value) for name, value in (pair.split("=") for pair in text.split())}


def digits(text):
    """Half a unit in the last printed place, for each expected number."""
    places = (pair.split("=")[1].partition(".")[2] for pair in text.split())
    return [0.5000001 * 10.0 ** -len(one) if one else 1e-9 for one in places]


def examples(name):
    with (EXAMPLES / f"{name}.csv").open(newline="") as file:
        return [pytest.param(row, id=row["id"]) for row in csv.DictReader(file)]


@pytest.mark.parametrize("row", examples("rate_interval"))
def test_rate_interval_meets_the_worked_example(row):
    given, expected = numbers(row["inputs"]), numbers(row["expected"])

    low, high = rate_interval(given["mites"], given["exposure"], given["c2"], exact=bool(given["exact"]))

    off_low, off_high = digits(row["expected"])
    assert given["per"] * low == pytest.approx(expected["low"], abs=off_low)
    assert given["per"] * high == pytest.approx(expected["high"], abs=off_high)


@pytest.mark.parametrize("row", examples("chance_above"))
def test_chance_above_meets_the_worked_example(row):
    given, expected = numbers(row["inputs"]), numbers(row["expected"])
    prior = Prior(given["mean"], given["shape"]) if "mean" in given else None

    chance = chance_above(given["mites"], given["exposure"], given["c2"], given["level"], prior)

    assert chance == pytest.approx(expected["chance"], abs=digits(row["expected"])[0])


# Intervals of reference programs for the same counts (statsmodels 0.15, R binom.test), per 100, as printed
# there. They are honest only for a perfectly counted, perfectly mixed jar; ours must reach higher.
BINOMIAL = [
    (3, "wilson", 0.341, 2.898),
    (3, "beta", 0.207, 2.894),
    (3, "jeffreys", 0.282, 2.644),
    (6, "wilson", 0.920, 4.294),
    (6, "beta", 0.737, 4.302),
    (6, "jeffreys", 0.839, 4.076),
    (9, "wilson", 1.5861853809, 5.6022539142),
    (9, "beta", 1.380781956, 5.618354824),
    (9, "jeffreys", 1.4945609589, 5.4032211988),
    (15, "wilson", 3.053, 8.085),
    (30, "wilson", 7.095, 13.917),
    (0, "wilson", 0.0, 1.264),
    (0, "beta", 0.0, 1.222),
]


@pytest.mark.parametrize(("mites", "method", "low", "high"), BINOMIAL)
def test_reference_program_gives_the_quoted_interval(mites, method, low, high):
    reference = proportion_confint(mites, 300, method=method)

    assert [100 * one for one in reference] == pytest.approx([low, high], abs=6e-4)


@pytest.mark.parametrize(("mites", "method"), [row[:2] for row in BINOMIAL if row[0] > 0])
def test_interval_with_jar_errors_reaches_higher_than_binomial_ones(mites, method):
    _, high = rate_interval(mites, 300, 0.0536)

    assert high > proportion_confint(mites, 300, method=method)[1]


@pytest.mark.parametrize("mites", [0, 1, 9, 60])
def test_poisson_limits_are_those_of_scipy_at_run_time(mites):
    low, high = rate_interval(mites, 300, 0.0, exact=True)

    assert 300 * low == pytest.approx(stats.chi2.ppf(0.025, 2 * mites) / 2 if mites else 0.0)
    assert 300 * high == pytest.approx(stats.chi2.ppf(0.975, 2 * mites + 2) / 2)


def test_exact_limits_are_the_roots_of_the_negative_binomial_tails():
    k = 1 / 0.0536
    low = optimize.brentq(lambda rate: stats.nbinom.sf(8, k, k / (k + 300 * rate)) - 0.025, 1e-4, 0.1)
    high = optimize.brentq(lambda rate: stats.nbinom.cdf(9, k, k / (k + 300 * rate)) - 0.025, 1e-3, 0.5)

    assert rate_interval(9, 300, 0.0536, exact=True) == pytest.approx((low, high), rel=1e-8)


@pytest.mark.parametrize(
    ("bees", "rate", "chance"),
    [(100, 0.01, 0.3660), (300, 0.01, 0.0490), (300, 0.02, 0.002333), (300, 0.03, 0.0001075)],
)
def test_chance_of_seeing_no_mite_is_binomial(bees, rate, chance):
    # Calculated: binomial, (1 - rate) ^ bees; the reason why 0 found is told with an upper bound.
    assert stats.binom.pmf(0, bees, rate) == pytest.approx(chance, rel=1e-3)


@pytest.mark.parametrize(("rate", "bees"), [(0.01, 299), (0.005, 598)])
def test_bees_for_a_95_percent_chance_of_one_mite(rate, bees):
    # Calculated: ceil(ln .05 / ln(1 - rate)); our one-sided bound at 0 mites is the Poisson form of the same.
    assert math.ceil(math.log(0.05) / math.log(1 - rate)) == bees
    assert rate_interval(0, bees, 0.0)[1] == pytest.approx(rate, rel=0.006)


def test_combined_c2_multiplies_independent_factors():
    # By hand: (1+.01)(1+.04)-1 = .0504; with a recovery CV of .055 it is .0536.
    assert combined_c2(0.10, 0.20) == pytest.approx(0.0504)
    assert combined_c2(0.10, 0.20, 0.055) == pytest.approx(0.0536, abs=5e-5)
    assert combined_c2() == 0
    assert combined_c2([0.0, 0.1], 0.2) == pytest.approx([0.04, 0.0504])


def test_jar_estimate_is_corrected_for_recovery_and_keeps_what_was_seen():
    estimate = estimate_jar(JarSample(9, 300, BeesBy.VOLUME, Method.ALCOHOL_WASH), DEFAULTS)

    assert estimate.seen == pytest.approx(0.03)  # 9 mites in 300 bees: 3.00 per 100
    assert estimate.rate == pytest.approx(0.03 / 0.95)
    assert estimate.c2 == pytest.approx(1.01 * 1.04 * (1 + (0.03 / 0.95) ** 2) - 1)
    assert (estimate.low, estimate.high) == pytest.approx(rate_interval(9, 285, estimate.c2))
    assert (estimate.unit, estimate.reason, estimate.method) == (Unit.PER_BEE, None, METHOD_VERSION)


@pytest.mark.parametrize(
    ("mites", "bees", "seen"), [(9, 300, 3.00), (6, 400, 1.50), (6, 300, 2.00)]
)  # calculated; 300 and 400 bees are two published contents of half a US cup
def test_same_mites_among_more_bees_are_a_lower_rate(mites, bees, seen):
    estimate = estimate_jar(JarSample(mites, bees, BeesBy.NOMINAL, Method.SOAP_WASH), DEFAULTS)

    assert 100 * estimate.seen == pytest.approx(seen)


def test_counted_bees_give_a_narrower_range_than_a_measure():
    counted, measured = (
        estimate_jar(JarSample(9, 300, by, Method.SUGAR_ROLL), DEFAULTS)
        for by in (BeesBy.COUNTED, BeesBy.VOLUME)
    )

    assert counted.c2 < measured.c2
    assert measured.low < counted.low < counted.high < measured.high


def test_co2_estimate_is_not_corrected_and_says_so():
    roll, co2 = (
        estimate_jar(JarSample(9, 300, BeesBy.COUNTED, how), DEFAULTS)
        for how in (Method.SUGAR_ROLL, Method.CO2)
    )

    assert (roll.corrected, co2.corrected) == (True, False)
    assert co2.rate == co2.seen
    assert co2.c2 > roll.c2


def test_few_bees_make_a_rough_estimate_and_fewer_none():
    rough = estimate_jar(JarSample(2, 99, BeesBy.COUNTED, Method.ALCOHOL_WASH), DEFAULTS)
    none = estimate_jar(JarSample(2, 49, BeesBy.COUNTED, Method.ALCOHOL_WASH), DEFAULTS)

    assert (rough.rough, rough.reason) == (True, None)
    assert (none.reason, none.rate, none.low, none.high) == (Refusal.FEW_BEES, None, None, None)
    assert not none.comparable


@pytest.mark.parametrize(
    ("sample", "reason"),
    [
        (JarSample(3, 0, BeesBy.COUNTED, Method.ALCOHOL_WASH), Refusal.NO_BEES),
        (JarSample(-3, 300, BeesBy.COUNTED, Method.ALCOHOL_WASH), Refusal.NOT_A_COUNT),
        (JarSample(math.nan, 300, BeesBy.COUNTED, Method.ALCOHOL_WASH), Refusal.NOT_A_COUNT),
        (JarSample(3, 100, BeesBy.COUNTED, Method.DRONE_BROOD), Refusal.DRONE_BROOD),
        (JarSample(3, 100, BeesBy.COUNTED, Method.BOARD), Refusal.WRONG_METHOD),
    ],
)
def test_refused_jar_has_a_reason_and_no_numbers(sample, reason):
    estimate = estimate_jar(sample, DEFAULTS)

    assert (estimate.reason, estimate.rate, estimate.low, estimate.high) == (reason, None, None, None)


def test_board_of_72_hours_is_told_per_day():
    # R: k<-1/.03; y<-qbeta(c(.025,.975),23.5,k); k*y/(1-y)/3. German club sheet: 20 mites in 5 days = 4 a
    # day.
    estimate = estimate_board(BoardSample(23, 3), DEFAULTS)

    assert (estimate.low, estimate.high) == pytest.approx((4.537610454, 13.190504264))
    assert estimate.unit is Unit.PER_DAY
    assert estimate_board(BoardSample(20, 5), DEFAULTS).rate == pytest.approx(4.0)


def test_board_counted_on_a_third_of_its_cells_is_scaled_up_and_wider():
    # As above, exposure 1 and c2 = .03 + .095^2 (Ostiguy & Sammataro 2000: error of a third of the cells).
    estimate = estimate_board(BoardSample(23, 3, 1 / 3), DEFAULTS)

    assert estimate.rate == pytest.approx(23.0)
    assert (estimate.low, estimate.high) == pytest.approx((13.291496134, 41.258974664))
    assert not estimate.rough


@pytest.mark.parametrize(
    ("sample", "reason"),
    [
        (BoardSample(3, 0), Refusal.NO_DAYS),
        (BoardSample(3, 0.49), Refusal.SHORT_BOARD),
        (BoardSample(30, 3, 0.1), Refusal.SMALL_SHARE),
        (BoardSample(19, 3, 0.5), Refusal.FEW_MITES_ON_PART),
        (BoardSample(3, 3, 0), Refusal.NOT_A_COUNT),
        (BoardSample(-3, 3), Refusal.NOT_A_COUNT),
    ],
)
def test_refused_board_has_a_reason_and_no_numbers(sample, reason):
    estimate = estimate_board(sample, DEFAULTS)

    assert (estimate.reason, estimate.rate, estimate.low, estimate.high) == (reason, None, None, None)


def test_few_mites_on_a_whole_board_are_no_reason_to_refuse():
    assert estimate_board(BoardSample(0, 3), DEFAULTS).reason is None
    assert estimate_board(BoardSample(20, 3, 0.5), DEFAULTS).reason is None


def test_long_board_and_small_part_are_rough():
    assert estimate_board(BoardSample(30, 8), DEFAULTS).rough
    assert estimate_board(BoardSample(30, 3, 0.2), DEFAULTS).rough
    assert not estimate_board(BoardSample(30, 7), DEFAULTS).rough


def test_drop_under_a_treatment_is_not_the_natural_drop():
    fall = estimate_board(BoardSample(400, 3), DEFAULTS, treatment_in_hive=True)

    assert fall.reason is Refusal.TREATMENT_FALL
    assert fall.rate == pytest.approx(400 / 3)
    assert not fall.comparable


@pytest.mark.parametrize("mites", [0, 1, 10**9])
@pytest.mark.parametrize("bees", [0, 1, 49, 50, 300, 10**9])
def test_any_whole_numbers_give_numbers_or_a_reason(mites, bees):
    jar = estimate_jar(JarSample(mites, bees, BeesBy.VOLUME, Method.SUGAR_ROLL), DEFAULTS)
    board = estimate_board(BoardSample(mites, bees), DEFAULTS)

    for estimate in (jar, board):
        numbers = (estimate.rate, estimate.low, estimate.high)
        if estimate.reason is None:
            assert all(math.isfinite(one) for one in numbers)
            assert estimate.low <= estimate.rate <= estimate.high
        else:
            assert numbers == (None, None, None)


def test_without_exposure_nothing_is_known():
    assert rate_interval(3, 0, 0.05) == (0.0, math.inf)
    assert rate_interval(-1, 300, 0.05) == (0.0, math.inf)
    assert chance_above(3, 0, 0.05, 0.03) == 0.5


def test_arrays_broadcast_like_single_calls():
    mites, levels = np.array([0, 3, 9]), np.array([[0.02], [0.03]])

    chances = chance_above(mites, 300, 0.0536, levels)

    assert chances.shape == (2, 3)
    assert chances[1, 2] == chance_above(9, 300, 0.0536, 0.03)
    assert [one[2] for one in rate_interval(mites, 300, 0.0536)] == list(rate_interval(9, 300, 0.0536))


@pytest.mark.parametrize("c2", [0.0, 0.0536])
def test_many_counts_at_once_equal_each_by_itself(c2):
    """Equal counts are computed once where there are many; not a digit may change by that."""
    mites, bees = np.arange(120).reshape(20, 6) % 17, np.arange(120).reshape(20, 6) + 30

    for exact in (False, True):
        many = rate_interval(mites, bees, c2, exact=exact)
        for place in np.ndindex(mites.shape):
            alone = rate_interval(mites[place], bees[place], c2, exact=exact)
            assert (many[0][place], many[1][place]) == alone


def test_many_counts_of_different_spread_are_each_their_own():
    spreads = np.linspace(0.01, 0.5, 100)
    _, high = rate_interval(np.full(100, 9), 300, spreads)

    assert np.all(np.diff(high) > 0)
    assert high[-1] == rate_interval(9, 300, 0.5)[1]


def test_poisson_chance_with_prior_is_the_gamma_posterior():
    # scipy: conjugate gamma with shape .8 and mean .01 -> Gamma(9.8, rate 300 + 80).
    assert chance_above(9, 300, 0.0, 0.03, Prior(0.01, 0.8)) == pytest.approx(stats.gamma.sf(0.03 * 380, 9.8))
    assert chance_above(9, 300, 2e-6, 0.03, Prior(0.01, 0.8)) == pytest.approx(
        stats.gamma.sf(0.03 * 380, 9.8), rel=1e-3
    )
