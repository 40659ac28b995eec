"""Abbott 1925, A method of computing the effectiveness of an insecticide, J. Econ. Entomol. 18:265-267.

Of 100 untreated insects 50 died, of 100 treated ones 98: the treatment killed 96 %, not 98 - 50 = 48 %.
Read in copies of the paper; pages from memory.
"""

import pytest

from treatments.outcome import Verdict, abbott, drop_against_controls


def test_of_those_that_would_have_lived_96_percent_died():
    assert 100 * abbott(2, 100, 50, 100).drop == pytest.approx(96.0)


def test_with_equal_starts_it_is_the_drop_against_controls():
    outcome = drop_against_controls(100, 100, 2, 100, 100, 100, 50, 100)
    assert 100 * outcome.drop == pytest.approx(96.0)


def test_without_a_count_before_it_stays_weak():
    outcome = abbott(2, 100, 50, 100)

    assert outcome.weak
    assert outcome.verdict is Verdict.CANNOT_TELL
    assert outcome.low < 0.96 < outcome.high
