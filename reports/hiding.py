"""When figures are hidden or marked uncertain, in words, from the constants that decide it."""

from apiaries.language import say
from reports.constants import DEFAULTS


def hiding_rule() -> str:
    """When figures are hidden from people of the club."""
    return _hidden_when(int(DEFAULTS.keepers_min.value))


def outside_rule() -> str:
    """When figures are hidden from people outside the club."""
    return _hidden_when(int(DEFAULTS.keepers_outside_min.value))


def uncertain_rule() -> str:
    """When a figure is marked uncertain."""
    return say(
        "its range is wider than {width} % of the figure, or it rests on fewer than {yards} yards, where several "
        "of one keeper count for less",
        width=round(DEFAULTS.uncertain_width.value * 100),
        yards=int(DEFAULTS.uncertain_yards.value),
    )


def published_uncertain_rule() -> str:
    """When a published figure is: by its yards as they are, since how many of them one keeper has is not published."""
    return say(
        "its range is wider than {width} % of the figure, or it rests on fewer than {yards} yards",
        width=round(DEFAULTS.uncertain_width.value * 100),
        yards=int(DEFAULTS.uncertain_yards.value),
    )


def range_level() -> int:
    """How sure the ranges of regions are, in per cent."""
    return round(DEFAULTS.level.value * 100)


def _hidden_when(keepers: int) -> str:
    return say(
        "fewer than {keepers} keepers or {yards} yards were counted, or one keeper has more than {share} % of them",
        keepers=keepers,
        yards=int(DEFAULTS.yards_min.value),
        share=round(DEFAULTS.largest_share_max.value * 100),
    )
