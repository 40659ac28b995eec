"""The pooled drop and the early warning against reference values and worked numbers; what is shown of them."""

import datetime as dt
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import special, stats
from statsmodels.stats.meta_analysis import combine_effects

from reports.constants import DEFAULTS
from reports.early_warning import chance_of_as_many, early_warnings
from reports.pressure import SuppressReason
from reports.treatment_results import (
    DropFacts,
    PooledDrop,
    TreatmentFact,
    first_of_yards,
    pool_drops,
    random_effects,
    result_rows,
)
from tests.simulate.drawing import factor, jars, rates
from treatments.outcome import Verdict, drop_in_mites

calm = settings(deadline=None, derandomize=True, max_examples=60)

# Colditz et al. 1994, JAMA 271:698-702, as in the data set dat.bcg of the R package metadat: sick and well among the
# vaccinated, sick and well among the others.
BCG = np.array(
    [
        *((4, 119, 11, 128), (6, 300, 29, 274), (3, 228, 11, 209), (62, 13536, 248, 12619)),
        *((33, 5036, 47, 5761), (180, 1361, 372, 1079), (8, 2537, 10, 619), (505, 87886, 499, 87892)),
        *((29, 7470, 45, 7232), (17, 1699, 65, 1600), (186, 50448, 141, 27197), (5, 2493, 3, 2338)),
        (27, 16886, 29, 17825),
    ],
    dtype=float,
)


def _bcg():
    a, b, c, d = BCG.T
    return np.log(a / (a + b) / (c / (c + d))), 1 / a - 1 / (a + b) + 1 / c - 1 / (c + d)


def test_random_effects_meet_the_reference_program():
    values, variances = _bcg()
    ours = random_effects(values, variances)
    theirs = combine_effects(values, variances, method_re="dl")

    assert ours.mean == pytest.approx(theirs.mean_effect_re, rel=1e-12)
    assert ours.between == pytest.approx(theirs.tau2, rel=1e-12)
    assert ours.variance == pytest.approx(theirs.var_eff_w_re, rel=1e-12)
    assert ours.factor == pytest.approx(theirs.scale_hksj_re, rel=1e-12)


def test_values_that_agree_do_not_differ_beyond_chance():
    found = random_effects([1.0, 1.1, 0.9], [0.5, 0.5, 0.5])

    assert (found.between, found.mean) == (0.0, pytest.approx(1.0))
    assert found.variance == pytest.approx(0.5 / 3)
    assert found.factor == pytest.approx(0.02 / 2 / 0.5)


def test_pool_of_like_yards_by_hand():
    """Five yards of 60 to 3, equal bees, no spread beyond chance: only the range has to be worked out."""
    found = pool_drops([DropFacts(60, 3, 1.0, 0.0)] * 5, [1] * 5)
    left = 3 / 60.5
    cv = math.sqrt((1 / 60.5 + 1 / 3) / 5)

    assert isinstance(found, PooledDrop)
    assert found.drop == pytest.approx(1 - left, rel=1e-12)
    assert found.low == pytest.approx(1 - left * math.exp(stats.t.ppf(0.95, 4) * cv), rel=1e-9)
    assert found.high == pytest.approx(1 - left * math.exp(-stats.t.ppf(0.95, 4) * cv), rel=1e-9)
    assert (found.yards, found.keepers, found.between) == (5, 5, 0.0)


def test_keepers_with_several_yards_widen_the_range():
    drops = [DropFacts(60, n, 1.0, 0.02) for n in (1, 3, 5, 2, 8, 4)]
    alone, shared = pool_drops(drops, [1] * 6), pool_drops(drops, [2, 2, 2])

    assert shared.drop == alone.drop
    assert shared.low < alone.low < alone.high < shared.high


def test_no_mite_left_anywhere_is_a_drop_with_a_lower_end():
    found = pool_drops([DropFacts(30, 0, 1.0, 0.02)] * 5, [1] * 5)

    assert (found.drop, found.high) == (1.0, 1.0)
    assert 0.5 < found.low < 0.99


def test_weights_do_not_follow_the_mites_that_were_left():
    """Ten yards counted alike: yards in which more was left by chance weigh no more than the others."""
    left = [0, 1, 1, 2, 2, 3, 3, 4, 4, 10]
    found = pool_drops([DropFacts(60, n, 1.0, 0.0) for n in left], [1] * 10)

    assert found.drop == pytest.approx(1 - sum(left) / 10 / 60.5, rel=1e-9)


def test_usual_weights_would_show_treatments_worse_than_they_are():
    """Twenty yards, five jars each, a true drop of 97 %: logs with their own variances hold it seldom, ours mostly."""
    random = np.random.default_rng(20261125)
    usual, ours = [], []
    for _ in range(200):
        rate = 0.04 * rates(random, "gamma", 1.0, 0.6, (20, 1)) * rates(random, "gamma", 1.0, 0.8, (20, 5))
        before, after = jars(random, rate), jars(random, 0.03 * rate * factor(random, 0.5, rate.shape))
        told = [
            drop_in_mites(m, 300, n, 300, treated_colonies=10) for m, n in zip(before, after, strict=True)
        ]
        told = [one for one in told if one.scale is not None]
        m, n = (np.array([getattr(one, name) for one in told]) for name in ("mites_before", "mites_after"))
        spread = np.array([one.spread for one in told])
        pooled = random_effects(np.log((n + 0.5) / (m + 0.5)), 1 / (m + 0.5) + 1 / (n + 0.5) + spread)
        room = stats.t.ppf(0.95, len(told) - 1) * math.sqrt(pooled.factor * pooled.variance)
        usual.append(abs(pooled.mean - math.log(0.03)) <= room)
        facts = [DropFacts(one.mites_before, one.mites_after, one.scale, one.spread) for one in told]
        found = pool_drops(facts, [1] * len(facts))
        ours.append(found.low <= 0.97 <= found.high)

    assert sum(ours) / 200 >= 0.87
    assert sum(usual) / 200 <= 0.35


FACTS = st.builds(
    DropFacts, st.integers(5, 400), st.integers(0, 400), st.floats(0.2, 5.0), st.floats(0.0, 0.5)
)


@calm
@given(st.lists(FACTS, min_size=5, max_size=12), st.randoms())
def test_pool_is_in_order_and_knows_no_order(drops, random):
    owned = [1] * len(drops)
    one, other = pool_drops(drops, owned), pool_drops(random.sample(drops, len(drops)), owned)

    assert all(math.isfinite(value) for value in (one.low, one.drop, one.high))
    assert one.low <= one.drop <= one.high <= 1.0
    assert (one.low, one.drop, one.high) == pytest.approx((other.low, other.drop, other.high), rel=1e-6)
    share = [one.after * one.scale / (one.before + 0.5) for one in drops]
    assert 1 - max(share) - 1e-9 <= one.drop <= 1 - min(share) + 1e-9


@calm
@given(st.lists(FACTS, min_size=5, max_size=12), st.floats(0.1, 10.0))
def test_growth_shared_by_all_yards_moves_the_survivors_alone(drops, factor):
    owned = [1] * len(drops)
    one = pool_drops(drops, owned)
    grown = pool_drops([replace(fact, scale=fact.scale * factor) for fact in drops], owned)

    assert 1 - grown.drop == pytest.approx((1 - one.drop) * factor, rel=1e-4)


def test_outcome_tells_what_a_pool_needs():
    outcome = drop_in_mites([14, 22], 300, [1, 0], [300, 330], days_between=14, growth=(0.02, 0.006))

    assert 1 - outcome.drop == pytest.approx(outcome.mites_after * outcome.scale / outcome.mites_before)
    assert outcome.scale == pytest.approx(600 / 630 * math.exp(-0.28))
    assert outcome.spread > 0


@pytest.mark.parametrize(("owned", "reason"), [([3, 3], "too_few_keepers"), ([1, 1, 2], "too_few_yards")])
def test_few_keepers_or_yards_are_not_pooled(owned, reason):
    assert pool_drops([DropFacts(60, 3, 1.0, 0.0)] * sum(owned), owned) == SuppressReason(reason)


# --- the early warning ---


@pytest.mark.parametrize(
    ("short", "yards", "share", "likeness"), [(3, 8, 0.1, 0.2), (1, 5, 0.4, 0.01), (12, 40, 0.15, 0.06)]
)
def test_chance_of_as_many_meets_the_reference(short, yards, share, likeness):
    a, b = share * (1 / likeness - 1), (1 - share) * (1 / likeness - 1)

    assert chance_of_as_many(short, yards, share, likeness) == pytest.approx(
        stats.betabinom.sf(short - 1, yards, a, b), rel=1e-9
    )


def test_chance_of_as_many_is_binomial_without_likeness():
    assert chance_of_as_many(3, 8, 0.1, 0.0) == pytest.approx(stats.binom.sf(2, 8, 0.1), rel=1e-12)
    assert chance_of_as_many(3, 8, 0.1, 1e-8) == pytest.approx(stats.binom.sf(2, 8, 0.1), rel=1e-4)
    assert chance_of_as_many(0, 8, 0.1, 0.2) == 1.0


def _fact(yard, verdict=Verdict.WORKED, **more):
    fields = {"keeper": yard, "region": 1, "season": 2026, "ingredient": "amitraz", "way": "strip"} | more
    counted = fields.pop("counted_both", True)
    first = dt.date(fields["season"], 8, 1)
    drop = fields.pop("drop", DropFacts(60, 3, 1.0, 0.02) if counted else None)
    return TreatmentFact(
        treatment=fields.pop("treatment", yard),
        yard=yard,
        first_on=fields.pop("first_on", first),
        name="Amitraz, strip",
        verdict=verdict,
        counted_both=counted,
        drop=drop,
        **fields,
    )


def _some(yards, short, **more):
    """So many yards, the first of them with a drop that fell short."""
    return [
        _fact(n, Verdict.DID_NOT_WORK if n < short else Verdict.WORKED, **more)
        for n in range(more.pop("begin", 0), yards)
    ]


def test_unusually_many_yards_warn_and_usual_ones_do_not():
    history = _some(40, 2, season=2025)
    quiet, loud = (early_warnings([*history, *_some(10, short)], 2026) for short in (1, 8))

    assert [look.region for look in loud] == [None, 1]
    assert not any(look.warns for look in quiet)
    assert all(look.warns for look in loud)
    here = loud[0]
    assert (here.short, here.yards, here.keepers, here.compared) == (8, 10, 10, 40)
    assert here.usual_low < here.usual < here.usual_high < 0.3
    assert here.limit == DEFAULTS.warn_below.value / 2


def test_look_by_hand():
    """40 yards of 40 keepers a year ago in one region, 2 short; now 4 of 8 of one keeper each."""
    (look, _) = early_warnings([*_some(40, 2, season=2025), *_some(8, 4)], 2026)
    worth = 40 / (1 + 0.05 * 39)
    usual = (2 / 40 * worth + 0.5) / (worth + 1)
    expected = (2 + usual) / 41
    likeness = 1 - (1 - 1 / (worth + 2)) * (1 - 0.05)
    a, b = expected * (1 / likeness - 1), (1 - expected) * (1 / likeness - 1)

    assert look.usual == pytest.approx(usual)
    assert look.chance == pytest.approx(stats.betabinom.sf(3, 8, a, b), rel=1e-9)
    assert look.usual_low == pytest.approx(
        special.betaincinv(usual * (worth + 1), (1 - usual) * (worth + 1), 0.05)
    )


def test_yards_of_two_keepers_are_no_sign():
    history = _some(40, 2, season=2025)
    short = [_fact(n, Verdict.FELL_SHORT, keeper=100 + n % 2) for n in range(6)]
    fine = [_fact(n, keeper=n) for n in range(6, 12)]

    assert not any(look.warns for look in early_warnings([*history, *short, *fine], 2026))


def test_yards_of_one_keeper_count_for_less():
    history = _some(40, 2, season=2025)
    alone = early_warnings([*history, *_some(12, 5)], 2026)[0]
    shared = early_warnings([*history, *(replace(one, keeper=one.yard // 2) for one in _some(12, 5))], 2026)[
        0
    ]

    assert shared.chance > alone.chance


def test_too_few_yards_to_compare_with_give_no_look():
    assert early_warnings([*_some(19, 0, season=2025), *_some(10, 10)], 2026) == []
    assert early_warnings([*_some(40, 0, season=2025), *_some(4, 4)], 2026) == []


def test_no_clear_answer_is_no_vote():
    history = _some(40, 2, season=2025)
    unclear = [_fact(n, Verdict.CANNOT_TELL) for n in range(10)]
    no_target = [_fact(n, None) for n in range(10, 20)]

    assert early_warnings([*history, *unclear, *no_target], 2026) == []


def test_later_seasons_do_not_change_an_earlier_look():
    facts = [*_some(40, 2, season=2025), *_some(10, 8)]

    assert early_warnings([*facts, *_some(30, 25, season=2027)], 2026) == early_warnings(facts, 2026)


def test_another_way_of_giving_it_does_not_ring_by_itself():
    """Trickling always fell short more often; a year in which more people trickle is no news."""
    vapour = _some(40, 1, season=2025, way="vapour")
    trickle = [
        replace(one, yard=one.yard + 100, keeper=one.keeper + 100) for one in _some(40, 20, season=2025)
    ]
    now = [replace(one, way="strip") for one in _some(10, 5)]

    assert not any(look.warns for look in early_warnings([*vapour, *trickle, *now], 2026))


@calm
@given(st.integers(1, 30), st.floats(0.01, 0.9), st.floats(0.0, 0.9), st.data())
def test_chance_falls_with_yards_short_and_grows_with_the_share(yards, share, likeness, data):
    short = data.draw(st.integers(0, yards))
    chance = chance_of_as_many(short, yards, share, likeness)

    assert 0.0 <= chance <= 1.0
    assert chance_of_as_many(short + 1, yards + 1, share / 2, likeness) <= chance + 1e-9


# --- rows, and what may be told ---


def _rows(facts):
    return {row.region: row for row in result_rows(facts, 2026)}


def test_row_counts_treatments_words_and_yards():
    facts = [*_some(6, 2), _fact(9, Verdict.TOO_EARLY, counted_both=False, keeper=1)]
    row = _rows(facts)[None]

    assert (row.treatments, row.counted_both, row.yards, row.keepers) == (7, 6, 7, 6)
    assert row.words == {Verdict.WORKED: 4, Verdict.DID_NOT_WORK: 2, Verdict.TOO_EARLY: 1}
    assert (row.pooled.yards, row.is_told) == (6, True)


def test_second_treatment_of_a_yard_gives_no_second_vote():
    late = dt.date(2026, 9, 1)
    again = _fact(1, treatment=99, first_on=late, drop=DropFacts(60, 60, 1.0, 0.0))

    assert [one.treatment for one in first_of_yards([again, _fact(1)])] == [1]
    row = _rows([*_some(6, 0), again])[None]
    assert (row.treatments, row.pooled.yards) == (7, 6)
    assert row.pooled.drop == pytest.approx(1 - 3 / 60.5)


def test_row_with_few_counted_yards_shows_no_words():
    facts = [*_some(3, 0), *(_fact(n, Verdict.NO_BEFORE_COUNT, counted_both=False) for n in range(3, 9))]
    row = _rows(facts)[None]

    assert (row.shown, row.is_told, row.pooled) == (True, False, None)
    assert row.counted_reason is SuppressReason.TOO_FEW_YARDS


def test_other_season_and_other_way_are_other_rows():
    rows = result_rows([*_some(6, 0), *_some(6, 0, way="wafer"), *_some(6, 0, season=2025)], 2026)

    assert [(row.way, row.region, row.yards) for row in rows] == [
        *(("strip", None, 6), ("strip", 1, 6)),
        *(("wafer", None, 6), ("wafer", 1, 6)),
    ]


def test_hidden_region_takes_another_along_so_that_it_cannot_be_worked_out():
    facts = [
        *(_fact(n, region=1) for n in range(20)),
        *(_fact(n, region=2) for n in range(20, 27)),
        *(_fact(n, region=3) for n in range(27, 29)),
    ]
    rows = _rows(facts)

    assert rows[3].reason is SuppressReason.TOO_FEW_KEEPERS
    assert (rows[2].guards_others, rows[2].shown) == (True, False)
    assert rows[1].is_told and rows[None].is_told


def test_hidden_regions_that_may_be_told_together_take_none_along():
    facts = [*(_fact(n, region=1) for n in range(8)), *(_fact(n, region=2 + n % 2) for n in range(8, 14))]

    assert not any(row.guards_others for row in _rows(facts).values())


@calm
@given(
    st.lists(st.tuples(st.integers(0, 30), st.integers(0, 8), st.integers(0, 4), st.booleans()), max_size=60)
)
def test_whole_less_the_shown_regions_is_nothing_or_may_be_shown(made):
    yards = {yard: (keeper, region, counted) for yard, keeper, region, counted in made}
    facts = [_fact(y, keeper=k, region=r, counted_both=c) for y, (k, r, c) in yards.items()]
    rows = _rows(facts)
    if None not in rows or not rows[None].is_told:
        return
    told = {region for region, row in rows.items() if row.is_told}
    lacking = [fact for fact in facts if fact.region not in told]
    if told != {None} and lacking:
        for group in (lacking, [fact for fact in lacking if fact.counted_both]):
            owners = [sum(1 for f in group if f.keeper == k) for k in {f.keeper for f in group}]
            assert not owners or (len(owners) >= 3 and sum(owners) >= 5 and max(owners) <= 0.6 * sum(owners))
