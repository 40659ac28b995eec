"""Where marks of the season chart stand when their days are too close together to see each."""

from __future__ import annotations

from collections.abc import Sequence

ROOMY = 1.3
"""Marks that would cover each other stand so many times their own width apart (our choice)."""
TIGHTER = (ROOMY, 0.9, 0.6, 0.3)
"""Where that moves a mark too far, they stand closer and cover each other in part (our choice)."""
MOVED_MAX = 8.0
"""Pixels that a mark is moved from its day at most (our choice)."""


def placed(days: Sequence[float], across: float) -> list[float]:
    """Places in pixels for marks so wide, in the order given: near their days, and apart if there is room."""
    for apart in TIGHTER:
        places = _apart(days, apart * across)
        if all(abs(place - day) <= MOVED_MAX for place, day in zip(places, days, strict=True)):
            return places
    return list(days)


def _apart(days: Sequence[float], step: float) -> list[float]:
    """The places closest to the days (least squares) that leave a step between neighbours."""
    blocks: list[list[float]] = []
    for place, day in enumerate(days):
        blocks.append([day - place * step])
        while len(blocks) > 1 and _mean(blocks[-2]) > _mean(blocks[-1]):
            last = blocks.pop()
            blocks[-1] += last
    level = [_mean(block) for block in blocks for _ in block]
    return [value + place * step for place, value in enumerate(level)]


def _mean(values: Sequence[float]) -> float:
    return sum(values) / len(values)
