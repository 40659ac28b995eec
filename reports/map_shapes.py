"""Where cells of a map are drawn: flat, and the same for the picture and for what lies over it. Pure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate

import h3
import numpy as np
import numpy.typing as npt

WIDE = 1000.0
"""The map is this wide, in its own units; what draws it makes them larger or smaller."""
HIGH = (380.0, 760.0)
"""And as high as it has to be, within these (our choice)."""
EDGE = 24.0
FINEST = 5
"""Resolution of yards' own cells: whatever is drawn is drawn of these."""

Point = tuple[float, float]
Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Shape:
    """One cell: its corners, and its middle."""

    cell: str
    corners: tuple[Point, ...]
    middle: Point


@dataclass(frozen=True, slots=True)
class Sheet:
    """Cells laid out; empty without any."""

    shapes: dict[str, Shape]
    high: float


def laid_out(cells: Sequence[str]) -> Sheet:
    """The cells on one sheet, north up, true to scale near its middle; also across the date line."""
    if not cells:
        return Sheet({}, HIGH[0])
    around = [h3.cell_to_boundary(cell) for cell in cells]
    middles = [h3.cell_to_latlng(cell) for cell in cells]
    x, y = _unrolled([*(corner for corners in around for corner in corners), *middles])
    corners = len(x) - len(middles)
    south, north = y[:corners].min(), y[:corners].max()
    shrink = max(math.cos(math.radians((south + north) / 2)), 0.02)
    x *= shrink
    west, east = x[:corners].min(), x[:corners].max()
    high_max = HIGH[1] - 2 * EDGE
    scale = min((WIDE - 2 * EDGE) / (east - west), high_max / (north - south))
    high = max(HIGH[0], float((north - south) * scale) + 2 * EDGE)
    left, top = (WIDE - (east - west) * scale) / 2, (high - (north - south) * scale) / 2
    across, down = np.round(left + (x - west) * scale, 1), np.round(top + (north - y) * scale, 1)
    points: list[Point] = list(zip(across.tolist(), down.tolist(), strict=True))
    begins = accumulate((len(one) for one in around), initial=0)
    shapes = {
        cell: Shape(cell, tuple(points[begin : begin + len(one)]), middle)
        for cell, one, begin, middle in zip(cells, around, begins, points[corners:], strict=False)
    }
    return Sheet(shapes, round(high, 1))


def shared_out(areas: Sequence[tuple[Sequence[str], int]]) -> list[list[str]]:
    """For each area (its cells, its yards) the finest cells that are drawn as its own: each is one area's only, that of
    the finest cell around it, else that of the most yards."""
    owner: dict[str, tuple[int, int, int]] = {}
    for place, (cells, yards) in enumerate(areas):
        for cell in cells:
            claim = (h3.get_resolution(cell), yards, -place)
            for child in h3.cell_to_children(cell, FINEST):
                owner[child] = max(owner.get(child, claim), claim)
    drawn: list[list[str]] = [[] for _ in areas]
    for child, (_, _, place) in sorted(owner.items()):
        drawn[-place].append(child)
    return drawn


def middle_shape(shapes: Sequence[Shape]) -> Shape:
    """The one nearest to the middle of all: where their words are written."""
    x = sum(shape.middle[0] for shape in shapes) / len(shapes)
    y = sum(shape.middle[1] for shape in shapes) / len(shapes)
    return min(shapes, key=lambda shape: (math.dist(shape.middle, (x, y)), shape.cell))


def _unrolled(places: Sequence[tuple[float, float]]) -> tuple[Floats, Floats]:
    """East and north of latitudes and longitudes, with no jump at the date line near the last of them."""
    flat = np.asarray(places, dtype=np.float64)
    beside = flat[-1, 1]
    return beside + (flat[:, 1] - beside + 540.0) % 360.0 - 180.0, flat[:, 0]
