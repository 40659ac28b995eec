"""Parasites that crowd on few hosts: red mites on apple leaves, ticks on grouse chicks.

Leaves: Bliss & Fisher 1953, Biometrics 9:176-200 (pages from memory), 150 leaves; the split of the last class into
3, 2 and 1 is from memory and fits the printed sum. Ticks: R package lme4, data set grouseticks. What stands beside
"calculated" was worked out from the data for this project, the rest is in the sources.
"""

import csv
from pathlib import Path

import numpy as np
import pytest
from scipy import optimize, stats

from counts.data_checks import chance_of_as_many
from counts.dispersion import club_spread
from counts.priors import region_month_prior
from counts.sampling_plan import units_for_precision_nb, units_for_precision_taylor

DATA = Path(__file__).parents[2] / "fixtures" / "published" / "grouse_ticks.csv"
LEAVES = np.repeat(np.arange(8), [70, 38, 17, 10, 9, 3, 2, 1])


def chicks():
    with DATA.open(newline="") as file:
        return [{name: int(value) for name, value in row.items()} for row in csv.DictReader(file)]


def broods():
    """Ticks of the chicks of each brood."""
    found: dict[int, list[int]] = {}
    for chick in chicks():
        found.setdefault(chick["brood"], []).append(chick["ticks"])
    return [np.array(ticks, dtype=float) for ticks in found.values()]


def best_k(counts):
    """Size of the negative binomial of greatest likelihood at the mean: a reference for the tests."""
    mean = counts.mean()

    def misfit(log_k):
        k = np.exp(log_k)
        return -stats.nbinom.logpmf(counts, k, k / (k + mean)).sum()

    return float(np.exp(optimize.minimize_scalar(misfit, bounds=(-5, 5), method="bounded").x))


def expected(mean, c2, classes):
    """Chances of 0, 1, 2 ... from our own tail, in which an equal count is half counted."""
    above, found = 1.0, []
    for number in range(classes):
        each = 2 * (above - chance_of_as_many(number, mean, c2))
        found.append(each)
        above -= each
    return found


def test_leaves_have_the_printed_sum_and_evenness():
    assert (LEAVES.size, LEAVES.sum()) == (150, 172)
    assert best_k(LEAVES) == pytest.approx(1.0246, abs=5e-5)  # maximum likelihood; calculated 1.024592


def test_ticks_have_the_calculated_evenness():
    ticks = np.array([chick["ticks"] for chick in chicks()])

    assert (ticks.size, ticks.sum(), (ticks == 0).sum(), ticks.max()) == (403, 2567, 126, 85)
    assert ticks.var(ddof=1) == pytest.approx(172.6615, abs=5e-5)
    assert best_k(ticks) == pytest.approx(0.36758, abs=5e-5)  # calculated: maximum likelihood


@pytest.mark.parametrize(("year", "sum_"), [(95, 696), (96, 1720), (97, 151)])
def test_ticks_of_each_year(year, sum_):
    assert sum(chick["ticks"] for chick in chicks() if chick["year"] == year) == sum_


def test_our_negative_binomial_fits_the_leaves():
    """Calculated expected numbers of leaves with 0, 1, 2 ... mites, and the fit: chi square 2.490, p 0.477."""
    leaves = [150 * one for one in expected(172 / 150, 1 / 1.024592, 8)]

    assert leaves == pytest.approx([69.49, 37.60, 20.10, 10.70, 5.69, 3.02, 1.60, 0.85], abs=0.006)
    classes = np.array([*leaves[:5], 150 - sum(leaves[:5])])
    misfit = float((np.square(np.array([70, 38, 17, 10, 9, 6]) - classes) / classes).sum())
    assert misfit == pytest.approx(2.490, abs=0.002)
    assert stats.chi2.sf(misfit, 3) == pytest.approx(0.477, abs=0.001)


def test_chance_alone_does_not_fit_the_leaves():
    leaves = [150 * one for one in expected(172 / 150, 0.0, 4)]

    assert leaves == pytest.approx([47.65, 54.64, 31.33, 11.97], abs=0.006)  # calculated: Poisson


@pytest.mark.parametrize(
    ("counts", "moment_k"),
    [(LEAVES, 1.166697), (np.array([chick["ticks"] for chick in chicks()]), 0.24399)],
    ids=["leaves", "ticks"],
)
def test_prior_is_the_moment_estimate_drawn_to_the_usual_spread(counts, moment_k):
    """Moment k (calculated): mean^2 / (variance - mean). The prior adds four hosts of the usual spread, 0.8."""
    prior = region_month_prior(counts, 1.0, 0.0)
    more = counts.size - 1

    assert prior.mean == pytest.approx(counts.mean())
    seen = ((more + 4) / prior.shape - 4 * 0.8) / more
    assert 1 / seen == pytest.approx(moment_k, abs=6e-6)


def test_taylors_law_of_broods_and_the_plan_it_gives():
    """67 broods of three chicks or more: variance 1.22610 mean ^ 1.34436 (calculated, least squares of logs)."""
    used = [one for one in broods() if one.size >= 3 and one.mean() > 0 and one.var(ddof=1) > 0]
    fit = stats.linregress(
        [np.log10(one.mean()) for one in used], [np.log10(one.var(ddof=1)) for one in used]
    )

    assert len(used) == 67
    assert (fit.slope, fit.intercept) == pytest.approx((1.34436, 0.08853), abs=5e-6)
    assert fit.rvalue**2 == pytest.approx(0.8841, abs=5e-5)
    assert units_for_precision_taylor(3, 10**fit.intercept, fit.slope, 0.25) == pytest.approx(9.547, abs=2e-3)


def test_plan_from_the_leaves():
    """Calculated: (1 / mean + 1 / k) / .25^2 leaves for a standard error of a quarter."""
    assert units_for_precision_nb(172 / 150, best_k(LEAVES), 0.25) == pytest.approx(29.57, abs=0.005)


def test_spread_within_broods_is_the_pooled_moment_estimate():
    """Calculated beside ours: squares beyond chance of all broods over (k - 1)(mean^2 - s^2 / k)."""
    used = [one for one in broods() if one.size >= 2]
    over = sum((np.square(one - one.mean())).sum() - (one.size - 1) * one.mean() for one in used)
    room = sum((one.size - 1) * (one.mean() ** 2 - one.var(ddof=1) / one.size) for one in used)

    spread = club_spread([[(float(ticks), 300.0) for ticks in one] for one in used])

    assert spread.yards == len(used)
    assert spread.total_c2 == pytest.approx(over / room, rel=1e-9)
    assert spread.between_c2 == pytest.approx(over / room - 0.0536, rel=1e-9)
