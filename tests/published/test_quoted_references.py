"""Values that reference programs give for the same counts, and how ours stand to them.

Each was computed for this project with the call beside it (R or scipy), not read in a publication.
"""

import numpy as np
import pytest
from scipy import optimize, stats

from counts.estimate import yard_mean
from reports.pressure import Population, pool_yards
from treatments._ratio import ratio_quantile
from treatments.outcome import mites_needed

MITES, BEES = np.array([3, 12, 5, 0, 9]), np.array([310, 295, 300, 280, 330])


def ratio_se(colonies=np.inf):
    """Standard error of a ratio of sums by linearization, as R's survey package has it."""
    rate = MITES.sum() / BEES.sum()
    spread = 5 / 4 * np.square(MITES - rate * BEES).sum() / BEES.sum() ** 2
    return float(np.sqrt(spread * (1 - 5 / colonies)))


@pytest.mark.parametrize(("colonies", "error"), [(np.inf, 0.006821720068), (12, 0.005210174764)])
def test_yard_range_holds_the_ratio_and_its_standard_error(colonies, error):
    # R: svyratio(~m,~n,svydesign(ids=~id,weights=~1,data=d)), with fpc=~fpc (12)
    assert ratio_se(colonies) == pytest.approx(error, rel=1e-6)
    said = yard_mean(MITES, BEES, colonies)

    assert said.rate == pytest.approx(0.01914191419, abs=5e-12)
    assert said.low < said.rate - error and said.rate + error < said.high


def best(misfit, start):
    return optimize.minimize(
        misfit, start, method="Nelder-Mead", options={"xatol": 1e-10, "fatol": 1e-13, "maxiter": 5000}
    ).x


def test_negative_binomial_of_greatest_likelihood_is_near():
    # R: MASS::glm.nb(m ~ 1 + offset(log(n))) gives .01892194396 and theta 1.5924298
    def misfit(at):
        rate, k = np.exp(at)
        return -stats.nbinom.logpmf(MITES, k, k / (k + BEES * rate)).sum()

    rate, k = np.exp(best(misfit, [-4, 0]))
    assert (rate, k) == pytest.approx((0.01892194396, 1.5924298), rel=2e-5)
    assert yard_mean(MITES, BEES, 12).rate == pytest.approx(rate, rel=0.02)


def test_beta_binomial_of_greatest_likelihood_is_near():
    # R: VGAM::vglm(cbind(m, n - m) ~ 1, betabinomial) gives .01888412 and .01199753
    def misfit(at):
        mean, rho = 1 / (1 + np.exp(-np.asarray(at)))
        size = 1 / rho - 1
        return -stats.betabinom.logpmf(MITES, BEES, mean * size, (1 - mean) * size).sum()

    mean, rho = 1 / (1 + np.exp(-best(misfit, [-4, -4])))
    assert (mean, rho) == pytest.approx((0.01888412, 0.01199753), rel=2e-4)
    assert yard_mean(MITES, BEES, 12).rate == pytest.approx(mean, rel=0.02)


def test_drop_lies_within_the_exact_range():
    # R: poisson.test(c(3,60), c(1500,1500), conf.level=.9) gives a ratio of .01327732053 to .1344283742
    exact_low = stats.beta.ppf(0.05, 3, 61) / stats.beta.ppf(0.95, 61, 3)
    exact_high = stats.beta.ppf(0.95, 4, 60) / stats.beta.ppf(0.05, 60, 4)
    assert (exact_low, exact_high) == pytest.approx((0.01327732053, 0.1344283742), rel=1e-8)

    low, high = (ratio_quantile(60, 3, 0.0, share) for share in (0.05, 0.95))

    assert exact_low < low < high < exact_high
    assert 1 - exact_high == pytest.approx(0.865571626, abs=5e-10)
    assert 1 - exact_low == pytest.approx(0.986722679, abs=5e-10)


@pytest.mark.parametrize(("before", "least"), [(17, 0.8073001182), (16, 0.794091449)])
def test_fewest_mites_are_where_the_exact_limit_passes_the_floor(before, least):
    # R: 1-(1/0.05^(1/17)-1)
    assert 1 - (0.05 ** (-1 / before) - 1) == pytest.approx(least, abs=5e-10)
    assert (before >= mites_needed(0.80)) == (least >= 0.80)


def test_posterior_of_a_yard_is_the_gamma_of_scipy():
    # scipy: gamma(1.25 + 14 / 4.87, scale = 1 / (1.25 / .015 + 600 / 4.87)); the raw rate is .02333
    pooled = pool_yards([14], [600], [0.43], population=Population(0.015, 1.25))
    same = stats.gamma(1.25 + 14 / 4.87, scale=1 / (1.25 / 0.015 + 600 / 4.87))

    assert pooled.means[0] == pytest.approx(0.019971002, abs=5e-10)
    assert pooled.chances_above(0.03)[0] == pytest.approx(0.147869, abs=5e-7)
    assert pooled.chances_above(0.03)[0] == pytest.approx(same.sf(0.03), rel=1e-9)
    assert (pooled.quantile(0.025), pooled.quantile(0.975)) == pytest.approx(
        (0.00558487, 0.04335484), abs=1e-8
    )
