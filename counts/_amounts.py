"""Numbers as the sentences about counts write them: rounded outward, in halves, in the reader's language. Pure."""

from __future__ import annotations

import math
from decimal import ROUND_HALF_UP, Decimal

from apiaries.language import figure, say, say_many
from counts._verdicts import Unit


def down(value: float) -> float:
    """Rounded down: to halves below 10, to whole numbers above."""
    step = 2.0 if value < 10 else 1.0
    return math.floor(value * step + 1e-9) / step


def up(value: float) -> float:
    """Rounded up likewise; infinite stays infinite."""
    if math.isinf(value):
        return value
    step = 2.0 if value <= 10 else 1.0
    return math.ceil(value * step - 1e-9) / step


def halves(value: float) -> str:
    """A number rounded to halves: ½, 3, 3½."""
    whole = int(value)
    if value == whole:
        return figure(f"{whole:,}")
    return "½" if whole == 0 else figure(f"{whole:,}") + "½"


def mites(value: float, unit: Unit) -> str:
    """So many mites a day, or per 100 bees."""
    one, words = one_or_many(value), halves(value)
    if unit is Unit.PER_DAY:
        if value == 0.5:
            return say("½ a mite a day")
        return say_many("{n} mite a day", "{n} mites a day", one, n=words)
    if value == 0.5:
        return say("½ a mite per 100 bees")
    return say_many("{n} mite per 100 bees", "{n} mites per 100 bees", one, n=words)


def one_or_many(value: float) -> int:
    """A whole number that languages tell one from many by, for a value that may be a fraction."""
    return 1 if value == 1 else 2


def plain(value: float) -> str:
    """A figure as it was printed, without trailing zeros."""
    return figure(f"{round(value, 3):,g}" if abs(value) < 1e6 else f"{value:,.0f}")


def one_decimal(value: float) -> str:
    """A figure to one decimal, halves up."""
    return figure(f"{Decimal(str(round(value, 9))).quantize(Decimal('0.1'), ROUND_HALF_UP):,}")
