"""Ingredients, their published bars, and the conversions their labels need."""

import pytest

from counts.constants import Mark
from treatments.ingredients import (
    Ingredient,
    anhydrous_from_dihydrate,
    celsius_from_fahrenheit,
    dihydrate_from_anhydrous,
    fahrenheit_from_celsius,
    is_biotechnical,
    is_synthetic,
    target_drop,
)

SYNTHETIC = {Ingredient.AMITRAZ, Ingredient.FLUMETHRIN, Ingredient.TAU_FLUVALINATE, Ingredient.COUMAPHOS}
WITHOUT = {Ingredient.DRONE_BROOD_REMOVAL, Ingredient.QUEEN_CAGING}


@pytest.mark.parametrize("ingredient", list(Ingredient))
def test_target_is_the_published_bar(ingredient):
    """COLOSS BEEBOOK II varroa 4.5.4, citing EMA/CVMP/EWP/459883/2008: 95 % synthetic, 90 % other."""
    target = target_drop(ingredient)

    assert is_synthetic(ingredient) == (ingredient in SYNTHETIC)
    assert is_biotechnical(ingredient) == (ingredient in WITHOUT)
    if ingredient in WITHOUT:
        assert target is None
    else:
        assert target.value == (0.95 if ingredient in SYNTHETIC else 0.90)
        assert target.mark is Mark.SOURCE


@pytest.mark.parametrize(
    ("dihydrate", "anhydrous", "tolerance", "source"),
    [
        (
            886.0,
            632.7,
            0.05,
            "UK SPC oxalic acid dihydrate 886 mg/g powder, Sept 2015, AN 01519/2014: 632.70 mg",
        ),
        (17.5, 12.5, 0.005, "German standard marketing authorisation, oxalic acid dihydrate 3.5 % solution"),
        (39.4, 28.1, 0.05, "SPC oxalic acid 39.4 mg/mL bee-hive dispersion: 28.1 mg/mL"),
        (1.0, 0.714, 0.0005, "calculated from the molar masses 90.03 and 126.07"),
    ],
)
def test_anhydrous_from_dihydrate_as_on_labels(dihydrate, anhydrous, tolerance, source):
    assert anhydrous_from_dihydrate(dihydrate) == pytest.approx(anhydrous, abs=tolerance), source
    assert dihydrate_from_anhydrous(anhydrous_from_dihydrate(dihydrate)) == pytest.approx(dihydrate)


@pytest.mark.parametrize(
    ("celsius", "fahrenheit"),
    # Definition: F = 9/5 C + 32. The temperatures are those of labels and data sheets.
    [(4, 39.2), (10, 50), (15, 59), (25, 77), (29.5, 85.1), (30, 86), (33, 91.4), (40, 104), (157, 314.6)],
)
def test_fahrenheit_from_celsius_at_label_temperatures(celsius, fahrenheit):
    assert fahrenheit_from_celsius(celsius) == pytest.approx(fahrenheit, abs=1e-9)


@pytest.mark.parametrize(("fahrenheit", "celsius"), [(37, 2.78), (50, 10.0), (79, 26.11), (85, 29.44)])
def test_celsius_from_fahrenheit_at_label_temperatures(fahrenheit, celsius):
    assert celsius_from_fahrenheit(fahrenheit) == pytest.approx(celsius, abs=0.005)
