"""Where rules about a treatment begin and end: each case stands at an edge, or is worked out by hand.

They were written for changes of the code that no other test minded.
"""

import datetime as dt
import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import special, stats

from treatments._ratio import Pair, log_or_least, mover, paired_spread, ratio_quantile
from treatments._verdicts import Drop, Outcome, Reason, Verdict, mites_needed, refused, verdict_of
from treatments.constants import DEFAULTS
from treatments.outcome import abbott, drop_against_controls, drop_by_follow_up, drop_in_mites, drop_on_boards
from treatments.status import RoundDates, TreatmentStatus, out_due_on, treatment_status


def pair(before, after, exposure=300.0):
    each = np.full(len(before), exposure)
    return Pair(np.array(before, dtype=float), each, np.array(after, dtype=float), each)


def widened(freedom):
    return (stats.t.ppf(0.95, freedom) / stats.norm.ppf(0.95)) ** 2


@pytest.mark.parametrize(
    ("before", "after", "treated", "expected"),
    [
        # these colonies: scoops only, a fifth of them each
        ((20, 20), (1, 1), None, 0.1 / 2),
        ((20,), (1,), 1, 0.1),
        ((20,), (1,), 0, 0.1),
        # one of two: half of the usual unequal effect, .25, widened for four colonies' worth of knowing
        ((20,), (1,), 2, 0.25 * widened(4) / 2 + 0.1),
        ((20, 20), (4, 5), math.inf, (0.25 * widened(4) + 0.1) / 2),
        # ten after: the counts are asked. Off by 0, by chance 10 + 10 / 4 of 50: seen -.25; (4 x .35 - .25) / 5 - .1
        ((20, 20), (5, 5), math.inf, (0.13 * widened(5) + 0.1) / 2),
        # very unequal: (2 x 200 - 30) / 200 = 1.85; (4 x .35 + 1.85) / 5 - .1
        ((20, 20), (20, 0), math.inf, (0.55 * widened(5) + 0.1) / 2),
        # unequal before: (20^2 + 2^2 - 22) / 22^2 of the weight lies on the larger
        ((20, 2), (1, 1), None, 0.1 * 382 / 484),
        ((1, 0), (0, 0), None, 0.1 / 2),
    ],
)
def test_spread_by_hand(before, after, treated, expected):
    assert paired_spread(pair(before, after), 0.1, treated, DEFAULTS) == pytest.approx(expected, rel=1e-9)


def test_what_is_seen_of_unequal_effects_is_bounded():
    """One of twenty holds all that is left: seen is near 20, taken as 6. (4 x .35 + 19 x 6) / 23 - .1."""
    wild = pair((20,) * 20, (400, *(0,) * 19))

    assert paired_spread(wild, 0.1, math.inf, DEFAULTS) == pytest.approx(
        (((4 * 0.35 + 19 * 6) / 23 - 0.1) * widened(23) + 0.1) / 20
    )


def test_ratio_of_unequal_exposures_is_a_ratio_of_rates():
    one = Pair(np.array([10.0]), np.array([100.0]), np.array([10.0]), np.array([200.0]))

    assert (one.ratio, one.exposure_ratio, one.colonies) == (0.5, 2.0, 1)
    assert one.quantile(0.5, 0.0) == pytest.approx(ratio_quantile(10, 10, 0.0, 0.5) / 2)
    assert pair((10,), (0,)).quantile(0.49, 0.0) == 0.0
    assert pair((10,), (0,)).quantile(0.5, 0.0) > 0


def test_no_spread_is_the_plain_beta():
    y = special.betaincinv(3.5, 60.5, 0.05)

    assert ratio_quantile(60, 3, 0.0, 0.05) == pytest.approx(y / (1 - y))
    keep = (1 / 60.5 + 1 / 3.5) / (1 / 60.5 + 1 / 3.5 + 0.2)
    y = special.betaincinv(3.5 * keep, 60.5 * keep, 0.05)
    assert ratio_quantile(60, 3, 0.2, 0.05) == pytest.approx(y / (1 - y))


def test_difference_of_logs_by_hand():
    low, high = mover((-4.0, -3.0, -1.0), (-0.5, 0.0, 0.25))

    assert (low, high) == pytest.approx((-3 - math.hypot(1, 0.25), -3 + math.hypot(2, 0.5)))
    assert log_or_least(0.0) == -math.inf
    assert log_or_least(math.e) == 1.0


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [
        (0.80, 0.90, Verdict.WORKED),
        (0.80, 0.899, Verdict.FELL_SHORT),
        (0.799, 0.90, Verdict.CANNOT_TELL),
        (0.799, 0.899, Verdict.DID_NOT_WORK),
    ],
)
def test_word_at_its_edges(low, high, expected):
    assert verdict_of(Drop(0.85, low, high), 0.90, 0.80)[0] is expected
    assert verdict_of(Drop(0.85, low + 1e-9, high), 0.90)[0] is expected  # the floor is ten points lower


@pytest.mark.parametrize(
    ("floor", "ratio", "expected"),
    [
        (1.0, 1.0, math.inf),
        (0.8, 0.0, math.inf),
        (0.8, math.inf, 1),
        (-1e6, 1.0, 1),
        (0.8, math.nan, math.inf),
    ],
)
def test_fewest_mites_at_their_edges(floor, ratio, expected):
    assert mites_needed(floor, ratio) == expected


def test_refused_outcome_is_empty():
    assert refused(Reason.TOO_EARLY) == Outcome(None, None, None, Verdict.TOO_EARLY, Reason.TOO_EARLY)
    assert refused(Reason.NO_BEFORE_COUNT).verdict is Verdict.NO_BEFORE_COUNT
    empty = refused(Reason.NOT_PAIRED)
    assert (empty.mites_before, empty.mites_after, empty.colonies) == (0, 0, 0)
    assert (empty.mites_needed, empty.seen, empty.picked_high, empty.weak) == (None, None, False, False)


@pytest.mark.parametrize(("before", "verdict"), [(17, Verdict.WORKED), (16, Verdict.CANNOT_TELL)])
def test_worked_begins_at_the_fewest_mites(before, verdict):
    said = drop_in_mites(before, 300, 0, 300, target=0.90, constants=replace(DEFAULTS, jar_c2=zero()))

    assert (said.verdict, said.mites_needed, said.high) == (verdict, 17, 1.0)


def zero():
    return replace(DEFAULTS.jar_c2, value=0.0)


@pytest.mark.parametrize(
    ("before", "reason"), [(0, Reason.NO_MITES_BEFORE), (4, Reason.FEW_MITES_BEFORE), (5, None)]
)
def test_fewest_mites_for_any_answer(before, reason):
    said = drop_in_mites(before, 300, 5, 300)

    assert (said.reason in {Reason.NO_MITES_BEFORE, Reason.FEW_MITES_BEFORE}) == (reason is not None)
    assert (said.drop is None) == (reason is not None)


@pytest.mark.parametrize(
    ("days", "told"), [(0, True), (180, True), (180.1, False), (-0.1, False), (math.nan, False)]
)
def test_growth_within_its_days(days, told):
    said = drop_in_mites(60, 300, 3, 300, days_between=days, growth=(0.02, 0.006))

    assert (said.drop is not None) == told
    assert said.seen.drop == pytest.approx(0.95)
    if told:
        assert said.drop == pytest.approx(1 - 0.05 * math.exp(-0.02 * days))
    else:
        assert said.reason is Reason.TOO_FAR_APART


def test_boards_by_hand():
    """Spread: .09 (1/3 + 1/3) for the days, twice .095 ^ 2 where a part was counted; one of three colonies each."""
    before = pair((60, 60, 60), (3, 3, 3), 3.0)
    for share, grid in ((1.0, 0.0), (0.5, 2 * 0.095**2)):
        said = drop_on_boards((60,) * 3, 3, (3,) * 3, 3, share_counted=share)
        spread = (0.09 * 2 / 3 + grid) / 3
        assert said.low == pytest.approx(1 - before.quantile(0.95, spread))
        assert said.high == pytest.approx(1 - before.quantile(0.05, spread))
    assert drop_on_boards(60, 3, 3, 3, share_counted=0.0).reason is Reason.NOT_A_COUNT
    assert drop_on_boards(60, 3, 3, 3, share_counted=1.01).reason is Reason.NOT_A_COUNT
    assert drop_on_boards(60, 0.5, 3, 0.49).reason is Reason.BOARD_TOO_SHORT
    assert drop_on_boards(60, 0.5, 3, 0.5).drop is not None


def test_abbott_by_hand():
    """Two treated and three untreated jars: starts differ with c2 .8 + .0536 each."""
    said = abbott([2, 3], 300, [20, 10, 30], 300)
    spread = 0.8536 / 2 + 0.8536 / 3

    assert said.drop == pytest.approx(1 - (5 / 600) / (60 / 900))
    assert said.low == pytest.approx(1 - ratio_quantile(60, 5, spread, 0.95) * 900 / 600)
    assert said.high == pytest.approx(1 - ratio_quantile(60, 5, spread, 0.05) * 900 / 600)
    assert (said.mites_after, said.colonies, said.weak, said.mites_before) == (5, 2, True, 0)


@pytest.mark.parametrize(
    ("given", "reason"),
    [
        (([], [], [9], [300]), Reason.NO_AFTER_COUNT),
        (([2], [300], [], []), Reason.NO_AFTER_COUNT),
        (([2], [49], [9], [300]), Reason.TOO_FEW_BEES),
        (([2], [300], [9], [49]), Reason.TOO_FEW_BEES),
        (([2], [300], [4], [300]), Reason.NO_MITES_IN_CONTROLS),
        (([-1], [300], [9], [300]), Reason.NOT_A_COUNT),
        (([2], [50], [5], [50]), Reason.STARTS_UNKNOWN),
    ],
)
def test_abbott_at_its_edges(given, reason):
    assert abbott(*given).reason is reason


@pytest.mark.parametrize(
    ("fallen", "later", "q", "reason"),
    [
        (-1, 50, 1.0, Reason.NOT_A_COUNT),
        (50, -1, 1.0, Reason.NOT_A_COUNT),
        (50, 5, 0.0, Reason.NOT_A_COUNT),
        (50, 5, 1.01, Reason.NOT_A_COUNT),
        (0, 0, 1.0, Reason.NO_MITES_BEFORE),
        (4, 0, 1.0, Reason.FEW_MITES_BEFORE),
        (3, 1, 0.5, None),
    ],
)
def test_follow_up_at_its_edges(fallen, later, q, reason):
    assert drop_by_follow_up(fallen, later, follow_up_efficacy=q).reason is reason


def test_follow_up_by_hand():
    said = drop_by_follow_up(950, 25, follow_up_efficacy=0.5)

    assert said.drop == 0.95
    assert (said.low, said.high) == pytest.approx(tuple(special.betaincinv(950.5, 50.5, [0.05, 0.95])))
    assert said.mites_after == 25
    assert (drop_by_follow_up(0, 50).low, drop_by_follow_up(50, 0).high) == (0.0, 1.0)
    assert drop_by_follow_up(0, 50).high > 0
    assert drop_by_follow_up(50, 0).low < 1


@pytest.mark.parametrize(("before", "after", "told"), [(5, 1, True), (4, 1, False), (5, 0, False)])
def test_untreated_colonies_need_mites(before, after, told):
    said = drop_against_controls(60, 300, 3, 300, before, 300, after, 300)

    assert (said.reason is not Reason.NO_MITES_IN_CONTROLS) == told


@pytest.mark.parametrize(
    ("given", "reason"),
    [
        (([9], [300], [1, 2], [300, 300]), Reason.NOT_PAIRED),
        (([9], [49], [1], [300]), Reason.TOO_FEW_BEES),
        (([9], [300], [1], [49]), Reason.TOO_FEW_BEES),
        (([9], [50], [1], [50]), Reason.RANGE_TOO_WIDE),
        (([9], [-1], [1], [300]), Reason.NOT_A_COUNT),
        (([math.inf], [300], [1], [300]), Reason.NOT_A_COUNT),
        (([9], [300], [], []), Reason.NO_AFTER_COUNT),
        (([], [], [9], [300]), Reason.NO_BEFORE_COUNT),
    ],
)
def test_pairs_at_their_edges(given, reason):
    assert drop_in_mites(*given).reason is reason


def test_what_cannot_be_mended_is_said_first():
    assert drop_in_mites([], [], [], [], too_early=True).reason is Reason.NO_BEFORE_COUNT
    assert drop_in_mites([9], [300], [], [], too_early=True).reason is Reason.TOO_EARLY
    assert drop_in_mites([9], [300], [], [], same_method=False).reason is Reason.DIFFERENT_METHODS


def day(number):
    return dt.date(2026, 5, 1) + dt.timedelta(days=number)


def test_round_is_in_the_hive_from_its_day_until_it_is_out():
    strips = RoundDates(day(0), day(1), out_on=day(43), stays_in_days=42)
    vapour = RoundDates(day(0), day(1))
    label = RoundDates(day(0), day(1), label_says=True)

    assert [strips.is_in_hive(day(n)) for n in (0, 1, 42, 43)] == [False, True, True, False]
    assert [vapour.is_in_hive(day(n)) for n in (0, 1, 2)] == [False, False, False]
    assert [label.is_in_hive(day(n)) for n in (0, 1, 400)] == [False, True, True]
    assert [RoundDates(day(0), stays_in_days=n).stays for n in (0, 1)] == [False, True]


def test_status_of_a_day_for_what_only_the_label_times():
    label = RoundDates(day(0), day(1), label_says=True)

    assert treatment_status([label], False, day(90)) is TreatmentStatus.IN_PROGRESS
    assert label.last_on == day(1)
    assert out_due_on(label) is None
    assert out_due_on(RoundDates(day(0), day(1), stays_in_days=1)) == day(2)
