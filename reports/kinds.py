"""How kinds of counts, and months that are hidden, are told on pages, in bulletins and in what is published."""

from counts.samples import Kind
from reports._disclosure import SuppressReason

KIND_WORDS = {Kind.WASH: "Washes", Kind.ROLL: "Rolls", Kind.BOARD: "Boards"}
UNITS = {Kind.WASH: "per 100 bees", Kind.ROLL: "per 100 bees", Kind.BOARD: "per day"}
PER = {Kind.WASH: 100, Kind.ROLL: 100, Kind.BOARD: 1}
"""Pages tell rates per so many bees or days."""
HIDDEN_WORDS = {
    SuppressReason.NO_SAMPLES: "nobody yet",
    SuppressReason.TOO_FEW_KEEPERS: "too few keepers",
    SuppressReason.TOO_FEW_YARDS: "too few yards",
    SuppressReason.ONE_KEEPER_DOMINATES: "mostly one keeper",
    SuppressReason.SMALL_PART: "part too small",
}
