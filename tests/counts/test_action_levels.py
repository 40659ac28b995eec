"""Published action levels: bands, gaps, conflicts, and how an estimate stands to them."""

import csv
import datetime as dt
import math
from pathlib import Path

import pytest

from counts.action_levels import (
    UNDEFINED,
    LevelKind,
    Standing,
    acts_on,
    band_of,
    bands_from_text,
    level_from_row,
    levels_for,
    standing,
)
from counts.estimate import Prior, estimate_board, estimate_jar, yard_mean
from counts.samples import BeesBy, BoardSample, JarSample, Method

FILE = Path(__file__).parents[2] / "fixtures" / "action_levels.csv"
JULY = dt.date(2026, 7, 10)


def rows():
    with FILE.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


LEVELS = [level_from_row(row) for row in rows()]
BY_KEY = {level.key: level for level in LEVELS}


def wash(mites, bees=300, bees_by=BeesBy.COUNTED):
    return estimate_jar(JarSample(mites, bees, bees_by, Method.ALCOHOL_WASH))


@pytest.mark.parametrize(
    ("key", "value", "band"),
    [
        # Germany, July, mites a day: under 5 ok, 5-10 watch, over 10 treat, over 30 lost (club and course
        # sheets).
        ("de_club_practice_jul_board", 4, "ok"),
        ("de_club_practice_jul_board", 7, "watch"),
        ("de_club_practice_jul_board", 12, "act"),
        ("de_club_practice_jul_board", 31, "lost"),
        ("de_club_practice_jul_board", 5, "watch"),
        ("de_club_practice_jul_board", 10, "watch"),
        ("de_club_practice_jul_board", 30, "act"),
        # France, Alsace chamber, May-June: under 2, 4-8, over 8; 2 to 4 is undefined in the published table.
        ("fr_alsace_may_jun", 3, UNDEFINED),
        ("fr_alsace_may_jun", 1.9, "ok"),
        ("fr_alsace_may_jun", 4, "watch"),
        ("fr_alsace_may_jun", 8.1, "act"),
        # France, Creuse, midsummer: 32 in 2 days; 24 in 2 days is below.
        ("fr_creuse_midsummer_2_days", 24, "ok"),
        # Bavaria LWG, July, mites per 10 g of bees: over 1 soon, over 4 at once.
        ("de_by_lwg_jul_jar", 4.2, "at_once"),
        ("de_by_lwg_jul_jar", 1, "ok"),
        # NSW DPI, broodless: under 3 mites a wash wait, next class from 3 (1 per 100); the rest was cut off.
        ("au_nsw_dpi_broodless", 1.0, "watch"),
        ("au_nsw_dpi_broodless", 0.99, "ok"),
        ("au_nsw_dpi_broodless", 5, UNDEFINED),
        # Drone brood, hobby pages: under 5 % low, over 25 % severe, nothing between.
        ("hobby_drone_brood", 12, UNDEFINED),
    ],
)
def test_band_is_the_published_one(key, value, band):
    assert band_of(BY_KEY[key], value) == band


def test_three_mites_in_a_wash_of_300_reach_the_second_class_exactly():
    level = BY_KEY["au_nsw_dpi_broodless"]

    assert band_of(level, level.in_unit(3 / 300)) == "watch"


def test_the_same_drop_may_be_below_one_level_and_above_another():
    # 12 a day in July: over the German 10, under the 16 (32 in 2 days) of Creuse. Neither is preferred.
    german, french = BY_KEY["de_club_practice_jul_board"], BY_KEY["fr_creuse_midsummer_2_days"]

    assert acts_on(german, german.in_unit(12.0)) is True
    assert acts_on(french, french.in_unit(12.0)) is False
    assert {german, french} <= set(levels_for(LEVELS, LevelKind.BOARD, JULY))


def test_acting_at_the_level_itself_is_as_published():
    at_least, more_than = BY_KEY["us_usda_ars_tucson_jar"], BY_KEY["us_univ_florida_jar"]

    assert (acts_on(at_least, 3), band_of(at_least, 3)) == (True, "act")
    assert (acts_on(more_than, 3), band_of(more_than, 3)) == (False, "ok")
    assert acts_on(BY_KEY["au_nsw_dpi_broodless"], 3) is None


def test_levels_are_those_of_the_month_and_overlapping_months_give_both():
    may = {level.key for level in levels_for(LEVELS, LevelKind.BOARD, dt.date(2026, 5, 31))}

    assert {"fr_alsace_apr_may", "fr_alsace_may_jun"} <= may
    assert "fr_alsace_jul" not in may


@pytest.mark.parametrize(("month", "applies"), [(11, False), (12, True), (1, True), (2, True), (3, False)])
def test_months_may_run_over_the_new_year(month, applies):
    found = levels_for(LEVELS, LevelKind.BOARD, dt.date(2026, month, 15))

    assert (BY_KEY["fr_creuse_winter_2_days"] in found) is applies


@pytest.mark.parametrize(
    ("brood", "found"), [("none", True), ("some", False), (None, False), ("unknown", False)]
)
def test_level_for_broodless_colonies_needs_brood_to_be_known_absent(brood, found):
    levels = levels_for(LEVELS, LevelKind.JAR, JULY, brood)

    assert (BY_KEY["au_nsw_dpi_broodless"] in levels) is found


def test_kinds_are_never_mixed_and_restated_or_conditional_levels_left_out():
    jars, boards = levels_for(LEVELS, "jar", JULY), levels_for(LEVELS, "board", JULY)

    assert {level.kind for level in jars} == {LevelKind.JAR}
    assert BY_KEY["fr_creuse_midsummer"] not in boards
    assert not any(level.only_when for level in jars + boards)


@pytest.mark.parametrize("level", LEVELS, ids=lambda level: level.key)
def test_every_published_level_has_a_source_a_mark_and_bands_in_order(level):
    assert level.source and level.mark and level.issuer
    assert level.bands[0].low == 0
    if level.act_at is not None:
        above, at = math.nextafter(level.act_at, math.inf), band_of(level, level.act_at)
        assert band_of(level, above) not in ("ok", "watch", UNDEFINED)
        assert (at == band_of(level, above)) is level.act_inclusive


@pytest.mark.parametrize("text", ["ok", "ok:0", "ok:a-b", ":0-1", "ok:0-5;act:4-"])
def test_bands_that_cannot_be_read_are_refused(text):
    with pytest.raises(ValueError):
        bands_from_text(text, None, False)


@pytest.mark.parametrize(
    ("mites", "expected"),
    [(4, Standing.BELOW), (5, Standing.EITHER_SIDE), (13, Standing.EITHER_SIDE), (14, Standing.ABOVE)],
)
def test_standing_needs_nine_chances_in_ten(mites, expected):
    # Calculated: of 300 bees without correction for recovery, below 3 per 100 needs 4 or fewer mites, above
    # 14 or more.
    estimate = wash(mites)
    raw = type(estimate)(estimate.rate, 0, 1, estimate.unit, False, None, mites, exposure=300, c2=0.0536)

    assert standing(raw, BY_KEY["us_usda_ars_tucson_jar"]) is expected


def test_standing_with_a_prior_follows_the_region():
    level = BY_KEY["us_usda_ars_tucson_jar"]

    assert standing(wash(15), level) is Standing.ABOVE
    assert standing(wash(15), level, prior=Prior(0.005, 2.0)) is Standing.EITHER_SIDE


def test_refused_estimate_is_not_enough_to_say():
    level = BY_KEY["us_usda_ars_tucson_jar"]

    assert standing(wash(30, bees=40), level) is Standing.NOT_ENOUGH
    assert standing(wash(30), BY_KEY["au_nsw_dpi_broodless"]) is Standing.NOT_ENOUGH


def test_boards_and_jars_are_never_compared_with_each_others_levels():
    board = estimate_board(BoardSample(90, 3))

    assert standing(board, BY_KEY["us_usda_ars_tucson_jar"]) is Standing.NOT_ENOUGH
    assert standing(wash(90), BY_KEY["de_club_practice_jul_board"]) is Standing.NOT_ENOUGH
    assert standing(board, BY_KEY["de_club_practice_jul_board"]) is Standing.ABOVE


def test_treatment_fall_is_compared_with_nothing():
    fall = estimate_board(BoardSample(900, 3), treatment_in_hive=True)

    assert standing(fall, BY_KEY["de_club_practice_jul_board"]) is Standing.NOT_ENOUGH


def test_yard_needs_three_colonies_for_a_verdict():
    level = BY_KEY["us_usda_ars_tucson_jar"]

    assert standing(yard_mean([40, 40], [300, 300], 12), level) is Standing.NOT_ENOUGH
    assert standing(yard_mean([40, 40, 40], [300] * 3, 12), level) is Standing.ABOVE
    assert standing(yard_mean([0] * 6, [300] * 6, 6), level) is Standing.BELOW
