"""Growth of mites against printed statements; what stands in none of them is calculated and says so."""

import math

import pytest

from treatments.outlook import brood_of, days_to_level, left_after


@pytest.mark.parametrize(
    ("start", "end", "growth", "days", "source"),
    [
        (100, 1600, math.log(2) / 21, 84, "university page on mites: doubled every 3 weeks, 100 to 1,600"),
        (10, 640, math.log(2) / 30, 180, "calculated: six monthly doublings, April to October"),
        (1, 2, 0.021, 33.007, "calculated: ln 2 / r"),
        (1, math.exp(2.1), 0.021, 100, "calculated: 100 days, 8.166-fold"),
        (1, math.exp(0.021 * 128), 0.021, 128, "calculated: 128 days, 14.702-fold"),
        (1, 2, 0.024755, 28, "calculated: doubled in 28 days"),
        (
            0.2,
            1,
            0.021459,
            75,
            "UK leaflet of 2005, as quoted: an 80 % kill is back in two and a half months",
        ),
        (1, 3, 0.02, 54.93061443, "calculated: ln 3 / r"),
    ],
)
def test_days_of_growth(start, end, growth, days, source):
    assert source
    assert days_to_level(start, end, growth) == pytest.approx(days, rel=1e-4)


@pytest.mark.parametrize(("days", "fold"), [(100, 8.166), (128, 14.702)])
def test_fold_of_growth_at_two_in_a_hundred_a_day(days, fold):
    assert days_to_level(1, fold, 0.021) == pytest.approx(days, abs=0.01)  # calculated


def test_arrivals_bring_the_day_nearer():
    # Calculated: ln[(T + g / r) / (x + g / r)] / r from 1 to 3 per 100 bees, .01 per 100 bees and day arriving.
    assert days_to_level(0.01, 0.03, 0.02, 0.0001) == pytest.approx(42.36489302, abs=5e-9)


@pytest.mark.parametrize(
    ("kill", "doublings"), [(0.996, 7.97), (0.9375, 4), (0.75, 2), (0.5, 1), (0.29, 0.494)]
)
def test_kills_told_in_doublings_to_come_back(kill, doublings):
    """A kill of 75 % is twice as good as one of 50 %: the mites need two doublings to be back (calculated)."""
    round_ = left_after([0], kill, None, growth=0.0)

    assert days_to_level(round_.left, 1.0, math.log(2)) == pytest.approx(doublings, abs=0.005)


def test_twice_as_many_mites_as_on_the_bees():
    """Lee et al. 2010, abstract: adults and pupae together have about twice the mites of the adults.

    600 mites on 20,000 bees (3 per 100) are then 1,200 in all; with the days on bees of the model's longer case.
    """
    share = brood_of(10.0, 0.02).share_in_brood

    assert 600 / (1 - share) == pytest.approx(1200, rel=0.05)
