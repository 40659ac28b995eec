"""Where rules about a region's month begin and end: each case stands at an edge, or is worked out by hand."""

import numpy as np
import pytest
from scipy import stats

from reports.constants import DEFAULTS
from reports.pressure import (
    CountBand,
    SuppressReason,
    YardCount,
    count_band,
    design_effect,
    hide_small_groups,
    pool_yards,
    publishable,
    region_figures,
    share_above,
    suppress_reason,
    unusual,
    yard_population,
)


@pytest.mark.parametrize(
    ("owned", "reason"),
    [
        ([], SuppressReason.NO_SAMPLES),
        ([0, 0, 0], SuppressReason.NO_SAMPLES),
        ([5, 5], SuppressReason.TOO_FEW_KEEPERS),
        ([2, 1, 1], SuppressReason.TOO_FEW_YARDS),
        ([3, 1, 1], None),
        ([6, 2, 2], None),
        ([7, 2, 2], SuppressReason.ONE_KEEPER_DOMINATES),
        ([4, 1, 1], SuppressReason.ONE_KEEPER_DOMINATES),
        ([0, 3, 1, 1], None),
    ],
)
def test_hidden_at_its_edges(owned, reason):
    assert suppress_reason(owned) is reason
    assert publishable(owned) == (reason is None)


@pytest.mark.parametrize(
    ("number", "band"),
    [(-1, "none"), (0, "none"), (1, "<5"), (4, "<5"), (5, "5–9"), (9, "5–9"), (10, "10–19"), (19, "10–19")]
    + [(20, "20–49"), (49, "20–49"), (50, "50+")],
)
def test_band_at_its_edges(number, band):
    assert count_band(number) is CountBand(band)


def test_even_a_single_one_keeps_a_hidden_cell_company():
    hidden = hide_small_groups([[1, 4], [0, 6]], [[False, True], [False, False]])

    assert hidden.cells.tolist() == [[True, True], [False, True]]
    assert (hidden.rows_without_total, hidden.columns_without_total) == ((1,), (0,))


def test_empty_cell_needs_no_hiding():
    assert not hide_small_groups([[0, 4], [3, 6]], [[True, False], [False, False]]).cells.any()


def test_population_by_hand():
    """Rates .01, .02, .06: mean .03, variance .0007; chance .03 / 300, jars .05. Shrunk to .6 by six yards."""
    said = yard_population([3, 6, 18], 300, 0.05)
    between = ((0.0007 - 0.03 / 300) / 0.03**2 - 0.05) / 1.05

    assert said.mean == pytest.approx(0.03)
    assert 1 / said.shape == pytest.approx((2 * between + 6 * 0.6) / 8)
    assert yard_population([0], 300, 0.05).mean == pytest.approx(0.5 / 300)
    assert 1 / yard_population([9], 300, 0.05).shape == pytest.approx(0.6)


def test_posterior_by_hand():
    said = pool_yards([3, 6, 18], 300, 0.05)
    deflate, a = 1 + 0.05 * 300 * 0.03, said.population.shape

    assert said.shape == pytest.approx(a + np.array([3, 6, 18]) / deflate)
    assert said.rate == pytest.approx(np.full(3, a / 0.03 + 300 / deflate))
    assert said.chances_above(-1.0) == pytest.approx(1.0)
    assert pool_yards([], [], []) is SuppressReason.NO_SAMPLES


def test_share_by_hand():
    said = share_above([0.1, 0.4, 0.9], [2, 1])
    n = 3 / (1 + 0.3 * (5 / 3 - 1))
    share = 1.4 / 3

    assert (said.share, said.n_effective) == pytest.approx((share, n))
    assert (said.low, said.high) == pytest.approx(
        tuple(stats.beta.ppf([0.025, 0.975], share * n + 0.5, (1 - share) * n + 0.5))
    )
    assert design_effect([]) == design_effect([0]) == design_effect([1, 1, 1]) == 1.0
    assert share_above([], []) is SuppressReason.NO_SAMPLES


def test_unusual_by_hand():
    logs = np.log([0.01, 0.02, 0.03])
    variance = (6 * 0.4**2 + 2 * logs.var(ddof=1)) / 8
    t = (np.log(0.08) - logs.mean()) / np.sqrt(variance * 4 / 3)
    said = unusual([0.01, 0.02, 0.03], 0.08)

    assert (said.t, said.p) == pytest.approx((t, stats.t.sf(t, 8)))
    assert said.is_unusual == (said.p < DEFAULTS.unusual_below.value)
    assert unusual([0.01, 0.02], 0.08) is None
    assert unusual([0.01, 0.02, 0.0], 0.08) is None
    assert unusual([0.01, 0.02, 0.03], 0.0) is None


def test_figures_count_yards_keepers_and_colonies_that_have_bees():
    yards = [YardCount(m, 300.0, 0.05, keeper, 2) for m, keeper in zip((0, 3, 6, 0, 9), "aabbc", strict=True)]
    said = region_figures([*yards, YardCount(5, 0.0, 0.05, "d")], {"three": 0.03})

    assert (said.yards, said.keepers, said.colonies, said.zeros, said.reason) == (5, 3, 10, 2, None)
    assert said.rate == pytest.approx(18 / 1500)
    assert said.low < said.rate < said.high
    share = said.shares["three"]
    assert share.low < share.share < share.high
    assert region_figures(yards[:2]).reason is SuppressReason.TOO_FEW_KEEPERS
    assert region_figures(yards[:2]).rate is None
