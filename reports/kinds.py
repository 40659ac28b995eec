"""How kinds of counts, ingredients and hidden months are told on pages, in bulletins and in what is published.

The words are said where they are shown.
"""

from apiaries.language import mark
from counts.samples import Kind
from reports._disclosure import SuppressReason

KIND_WORDS = {Kind.WASH: mark("Washes"), Kind.ROLL: mark("Rolls"), Kind.BOARD: mark("Boards")}
UNITS = {Kind.WASH: mark("per 100 bees"), Kind.ROLL: mark("per 100 bees"), Kind.BOARD: mark("per day")}
INGREDIENTS_INSIDE = {
    "oxalic_acid": mark("oxalic acid"),
    "formic_acid": mark("formic acid"),
    "oxalic_and_formic": mark("oxalic and formic acid"),
    "thymol": mark("thymol"),
    "amitraz": mark("amitraz"),
    "flumethrin": mark("flumethrin"),
    "tau_fluvalinate": mark("tau-fluvalinate"),
    "coumaphos": mark("coumaphos"),
    "hop_beta_acids": mark("hop beta acids"),
    "drone_brood_removal": mark("work on the brood"),
    "queen_caging": mark("work on the brood"),
}
"""Inside a sentence. They cannot be made from headings: German writes nouns with a capital everywhere."""
PER = {Kind.WASH: 100, Kind.ROLL: 100, Kind.BOARD: 1}
"""Pages tell rates per so many bees or days."""
HIDDEN_WORDS = {
    SuppressReason.NO_SAMPLES: mark("nobody yet"),
    SuppressReason.TOO_FEW_KEEPERS: mark("too few keepers"),
    SuppressReason.TOO_FEW_YARDS: mark("too few yards"),
    SuppressReason.ONE_KEEPER_DOMINATES: mark("mostly one keeper"),
    SuppressReason.SMALL_PART: mark("part too small"),
}
