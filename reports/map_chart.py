"""The map of a month from one definition, as SVG without a browser, a tile server or the network.

Each area has its class as background and as so many dots, its figure, and its number in the table beside it.
"""

from collections.abc import Sequence
from math import dist
from typing import Any

import altair as alt

from apiaries.language import say_as
from apiaries.templatetags.recount_words import one_decimal
from reports.charts import THEMES, dressed
from reports.drawings import defined, drawn, rows_of
from reports.heat import CLASSES
from reports.map_shapes import WIDE, Point
from reports.region_map import Area, RegionMap

VERSION = 1
"""Raised when the drawing changes, so that no old one is taken from the cache."""
WIDTHS = {"wide": 680, "narrow": 330}
HEAT = ("heat-a", "heat-b", "heat-c", "heat-d", "heat-e")
DOT = "\N{BULLET}"
WORDS = {
    "wide": (("rate:N", 0, 17), ("dots:N", 13, 15), ("number:N", -16, 13), ("alone:N", 0, 14)),
    "narrow": (("rate:N", 0, 13), ("dots:N", 9, 11), ("number:N", -11, 10), ("alone:N", 0, 11)),
}
"""What is written in an area, so many pixels below its middle, in which size. Where another area is too near, its
number alone: the table beside has the rest."""
ROOM = {"wide": 46, "narrow": 34}
"""So many pixels apart they have to be (our choice)."""


def map_svg(shown: RegionMap, *, theme: str, size: str) -> str:
    """The map as SVG; drawn once for what it shows, then taken from the cache."""
    spec = defined(map_chart(shown, theme=theme, size=size))
    return drawn("region-map", [VERSION, spec], lambda: spec)


def map_chart(shown: RegionMap, *, theme: str, size: str) -> alt.TopLevelMixin:
    """The definition. Places are given in pixels already: nothing is fitted, so that the links over it lie right."""
    colours, scale = THEMES[theme], WIDTHS[size] / WIDE
    heat = alt.Color(
        "properties.heat:O",
        scale=alt.Scale(domain=list(range(1, CLASSES + 1)), range=[colours[name] for name in HEAT]),
        legend=None,
    )
    cells = (
        alt.Chart(rows_of(_features(shown.drawn, scale)))
        .mark_geoshape(stroke=colours["rule"], strokeWidth=0.8)
        .encode(color=heat)
        .project(type="identity", scale=1, translate=[0, 0])
    )
    outlines = (
        alt.Chart(rows_of(_outlines(shown.drawn, scale)))
        .mark_geoshape(filled=False, stroke=colours["ink"], strokeWidth=1.6)
        .project(type="identity", scale=1, translate=[0, 0])
    )
    base = alt.Chart(rows_of(_labels(shown.drawn, scale, ROOM[size]))).encode(
        x=alt.X("x:Q", axis=None, scale=alt.Scale(domain=[0, WIDTHS[size]], nice=False, zero=False)),
        y=alt.Y(
            "y:Q", axis=None, scale=alt.Scale(domain=[shown.sheet.high * scale, 0], nice=False, zero=False)
        ),
    )
    words: list[Any] = [
        base.mark_text(dy=dy, fontSize=font, fontWeight=600, color=colours["ink"]).encode(text=field)
        for field, dy, font in WORDS[size]
    ]
    size_of = {"width": WIDTHS[size], "height": round(shown.sheet.high * scale)}
    chart = alt.layer(cells, outlines, *words).properties(**size_of, padding=0, background=colours["sheet"])
    return dressed(chart, colours)


def _features(areas: Sequence[Area], scale: float) -> list[dict[str, Any]]:
    """Cells, each in its area's class."""
    return [
        {
            "type": "Feature",
            "properties": {"heat": area.heat},
            "geometry": {
                "type": "Polygon",
                "coordinates": [[[x * scale, y * scale] for x, y in (*shape.corners, shape.corners[0])]],
            },
        }
        for area in areas
        for shape in area.shapes
    ]


def _outlines(areas: Sequence[Area], scale: float) -> list[dict[str, Any]]:
    """The edges that only one cell of an area has: where it ends."""
    lines = []
    for area in areas:
        edges: dict[frozenset[Point], tuple[Point, Point]] = {}
        for shape in area.shapes:
            for edge in zip(shape.corners, (*shape.corners[1:], shape.corners[0]), strict=True):
                # Shared by two cells of the area: inside it.
                if edges.pop(frozenset(edge), None) is None:
                    edges[frozenset(edge)] = edge
        lines += [[[x * scale, y * scale] for x, y in edge] for edge in edges.values()]
    geometry = {"type": "MultiLineString", "coordinates": lines}
    return [{"type": "Feature", "properties": {}, "geometry": geometry}]


def _labels(areas: Sequence[Area], scale: float, room: float) -> list[dict[str, Any]]:
    placed = [(area, area.label.middle) for area in areas if area.label]
    said = []
    for area, middle in placed:
        near = min((dist(middle, other) for one, other in placed if one is not area), default=WIDE)
        full = near * scale >= room
        rate = say_as("mites on the map", "none") if area.none_found else one_decimal(area.rate)
        said.append(
            {
                "x": middle[0] * scale,
                "y": middle[1] * scale,
                "rate": rate if full else "",
                "dots": DOT * area.heat if full else "",
                "number": f"({area.number})" if full else "",
                "alone": "" if full else f"({area.number})",
            }
        )
    return said
