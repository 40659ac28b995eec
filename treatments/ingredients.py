"""Active ingredients, what is asked of them, and the conversions their labels need. Pure."""

from __future__ import annotations

from enum import StrEnum

from counts.constants import Constant, Mark
from treatments.constants import DEFAULTS, Constants

_DICTIONARY = "chemical dictionary entries of oxalic acid (90.03-90.04) and its dihydrate (126.07), g/mol"
OXALIC_MOLAR_MASS = Constant(90.03, Mark.SOURCE, _DICTIONARY)
"""g/mol, anhydrous.

Of the two printed roundings, the one that reproduces the label pair 886 mg = 632.70 mg.
"""
OXALIC_DIHYDRATE_MOLAR_MASS = Constant(126.07, Mark.SOURCE, _DICTIONARY)
"""g/mol, with its two waters: what is sold and weighed."""


class Ingredient(StrEnum):
    """What a colony got. Never a product.

    The last two put nothing into the hive. They are members all the same, because they are planned, recorded
    and recounted like the rest, and may run beside one another (`is_biotechnical`).
    """

    OXALIC_ACID = "oxalic_acid"
    FORMIC_ACID = "formic_acid"
    OXALIC_AND_FORMIC = "oxalic_and_formic"
    THYMOL = "thymol"
    AMITRAZ = "amitraz"
    FLUMETHRIN = "flumethrin"
    TAU_FLUVALINATE = "tau_fluvalinate"
    COUMAPHOS = "coumaphos"
    HOP_BETA_ACIDS = "hop_beta_acids"
    DRONE_BROOD_REMOVAL = "drone_brood_removal"
    QUEEN_CAGING = "queen_caging"


_SYNTHETIC = {Ingredient.AMITRAZ, Ingredient.FLUMETHRIN, Ingredient.TAU_FLUVALINATE, Ingredient.COUMAPHOS}
_BIOTECHNICAL = {Ingredient.DRONE_BROOD_REMOVAL, Ingredient.QUEEN_CAGING}


def is_synthetic(ingredient: Ingredient) -> bool:
    """Made in a works and not found in nature, which sets the higher bar."""
    return ingredient in _SYNTHETIC


def is_biotechnical(ingredient: Ingredient) -> bool:
    """Work on the brood, without any ingredient."""
    return ingredient in _BIOTECHNICAL


def target_drop(ingredient: Ingredient, constants: Constants = DEFAULTS) -> Constant | None:
    """Published bar for the drop in mites, as a part of 1.

    None where no bar is published: then no verdict.
    """
    if is_biotechnical(ingredient):
        return None
    return constants.target_synthetic if is_synthetic(ingredient) else constants.target_other


def anhydrous_from_dihydrate(amount: float) -> float:
    """Oxalic acid without its water, in the unit of `amount` (a mass or a concentration)."""
    return amount * OXALIC_MOLAR_MASS.value / OXALIC_DIHYDRATE_MOLAR_MASS.value


def dihydrate_from_anhydrous(amount: float) -> float:
    """Oxalic acid as it is weighed, in the unit of `amount`."""
    return amount * OXALIC_DIHYDRATE_MOLAR_MASS.value / OXALIC_MOLAR_MASS.value


def fahrenheit_from_celsius(degrees: float) -> float:
    """Temperature in degrees Fahrenheit."""
    return degrees * 9.0 / 5.0 + 32.0


def celsius_from_fahrenheit(degrees: float) -> float:
    """Temperature in degrees Celsius."""
    return (degrees - 32.0) * 5.0 / 9.0
