"""Doses by the size of a colony, and what to bring for a yard."""

import csv
from decimal import Decimal as D
from pathlib import Path

import pytest

from treatments.dose import (
    ColonySize,
    DosePer,
    DoseReason,
    DoseRule,
    dose_per_colony,
    grams_dissolved,
    rule_from_unit,
    total_to_bring,
)
from treatments.ingredients import anhydrous_from_dihydrate

FIXTURES = Path(__file__).parents[2] / "fixtures"
# 5 mL a seam, 50 mL a hive at most: French text of the EU oxalic acid powder.
TRICKLE = DoseRule(D(5), "mL", DosePer.SEAM, max_per_colony=D(50))
# One strip for five frames: from memory.
STRIPS = DoseRule(D(1), "strips", DosePer.FRAME, per_number=5, whole=True)


@pytest.mark.parametrize("size", [ColonySize(), ColonySize(seams=0), ColonySize(brood_boxes=2, frames=9)])
def test_dose_without_the_size_it_needs(size):
    dose = dose_per_colony(TRICKLE, size)

    assert dose.amount is None
    assert dose.reason is DoseReason.SIZE_MISSING


@pytest.mark.parametrize(
    ("seams", "amount", "reason"), [(1, 5, None), (7, 35, None), (10, 50, None), (11, 50, DoseReason.AT_MAX)]
)
def test_dose_by_seam_stops_at_the_most_a_hive_may_get(seams, amount, reason):
    dose = dose_per_colony(TRICKLE, ColonySize(seams=seams))

    assert (dose.amount, dose.unit, dose.reason) == (D(amount), "mL", reason)


@pytest.mark.parametrize(("frames", "strips"), [(1, 1), (5, 1), (6, 2), (10, 2), (11, 3)])
def test_dose_in_strips_is_whole_and_rounded_up(frames, strips):
    assert dose_per_colony(STRIPS, ColonySize(frames=frames)).amount == strips


def test_dose_by_brood_box_and_by_colony():
    # 1 g in a brood box: US vapour limit of 2021 as Jack et al. 2021 give it in their abstract.
    vapour = DoseRule(D(1), "g", DosePer.BROOD_BOX)
    assert dose_per_colony(vapour, ColonySize(brood_boxes=2)).amount == 2
    assert dose_per_colony(DoseRule(D("2.3"), "g", DosePer.COLONY), ColonySize()).amount == D("2.3")


def test_rule_from_every_unit_of_the_reference_data():
    with (FIXTURES / "applications.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    for row in rows:
        amount = D(row["dose_amount"]) if row["dose_amount"] else None
        most = D(row["dose_max_per_hive"]) if row["dose_max_per_hive"] else None
        rule = rule_from_unit(amount, row["dose_unit"], most)
        assert (rule is None) == (amount is None), row["key"]
    assert rule_from_unit(D(5), "ml_per_seam", D(50)) == TRICKLE
    assert rule_from_unit(D(1), "strips_per_5_frames", None) == STRIPS


def test_total_brings_a_tenth_more():
    total = total_to_bring([D(35), D(50), D(15)])
    assert (total.doses, total.spare, total.to_bring) == (100, 10, 110)
    assert total_to_bring([D(2)] * 6, whole=True).to_bring == 14
    assert total_to_bring([D(2)] * 6, spare=D(0)).to_bring == 12
    assert total_to_bring([]).to_bring == 0


@pytest.mark.parametrize(
    ("strength", "millilitres", "grams", "source"),
    [
        ("35", "5", "0.175", "calculated from 35 g/L (from memory) and 5 mL"),
        ("35", "50", "1.75", "calculated from 35 g/L (from memory) and 50 mL"),
        ("39.4", "50", "1.97", "calculated from the SPC of the 39.4 mg/mL dispersion"),
        ("28.1", "50", "1.405", "the same SPC, as oxalic acid without its water"),
        ("35", "500", "17.5", "German standard marketing authorisation: 17.5 g in 500 mL"),
    ],
)
def test_grams_dissolved_as_on_labels(strength, millilitres, grams, source):
    assert grams_dissolved(D(strength), D(millilitres)) == D(grams), source


def test_grams_dissolved_agree_with_the_label_without_water():
    dihydrate = float(grams_dissolved(D("39.4"), D(50)))
    # 28.1 is itself rounded: half a unit of its last place, in 50 mL.
    assert anhydrous_from_dihydrate(dihydrate) == pytest.approx(1.405, abs=0.0025)
