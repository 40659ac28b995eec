"""Mite washes of Ontario's apiary inspection, 2015 (excerpt of the Provincial Apiarist Report, ontariobee.com).

5,883 colonies washed, 851 with mites. Mean infestation in the autumn: 0.59 % in commercial yards, 4.53 % in small ones.
What the page "Adding regions up" tells from them is computed here.
"""

from pathlib import Path

import numpy as np
import pytest
from statsmodels.stats.proportion import proportion_confint

from reports.pressure import YardCount, region_figures, share_above

PAGE = (Path(__file__).parents[2] / "docs" / "explanation" / "adding-regions-up.md").read_text(
    encoding="utf-8"
)
WASHED, WITH_MITES = 5883, 851
COMMERCIAL, SMALL = 0.59, 4.53  # October, per cent


def test_share_of_colonies_with_mites_and_its_range():
    share = WITH_MITES / WASHED
    low, high = proportion_confint(WITH_MITES, WASHED, method="jeffreys")

    assert 100 * share == pytest.approx(14.47, abs=0.005)
    said = share_above([1.0] * WITH_MITES + [0.0] * (WASHED - WITH_MITES), [1] * WASHED)
    assert (said.low, said.high) == pytest.approx((low, high), abs=1e-9)
    assert f"14.5 % (13.6 to {100 * high:.1f} %)" in PAGE and f"{100 * low:.1f}" == "13.6"


def test_colonies_of_few_keepers_are_fewer_than_they_look():
    """The same washes, were they of 60 keepers with about 98 colonies each: a range more than five times as wide."""
    owned = [98] * 59 + [WASHED - 98 * 59]
    alone = share_above([WITH_MITES / WASHED] * WASHED, [1] * WASHED)
    shared = share_above([WITH_MITES / WASHED] * WASHED, owned)

    assert (shared.high - shared.low) / (alone.high - alone.low) == pytest.approx(5.5, abs=0.1)
    assert f"{100 * shared.low:.0f} to {100 * shared.high:.0f} %" in PAGE


def test_one_mean_of_two_kinds_of_yards_is_whatever_the_weights_make_it():
    means = [
        np.average([COMMERCIAL, SMALL], weights=[1 - of_small, of_small]) for of_small in (0.5, 0.9, 0.1)
    ]

    assert means == pytest.approx([2.56, 4.136, 0.984])
    assert all(f"{mean:.1f} per 100" in PAGE for mean in means)


def test_our_region_tells_the_spread_that_the_mean_hides():
    """Nine small yards and nine commercial ones at those means, one wash of 900 bees each."""
    yards = [
        YardCount(round(9 * rate), 900.0, 0.05, number) for number, rate in enumerate([COMMERCIAL, SMALL] * 9)
    ]
    found = region_figures(yards, {"three": 0.03})

    assert 100 * found.rate == pytest.approx(2.56, abs=0.05)
    assert found.tenth < 0.01 < 0.04 < found.ninetieth
    assert found.shares["three"].share == pytest.approx(0.5, abs=0.05)
