"""The season chart, from one definition, as SVG without a browser or the network.

Bars are ranges, the mark on a bar is the estimate and its shape the kind of count, named above; lines are the action
level. Boards have an axis of their own under that of washes and rolls, boards under a treatment a third without a
level, and treatments are bands through all with their ingredient in words above.
"""

import datetime as dt
from collections.abc import Sequence
from typing import Any

import altair as alt

from apiaries.language import mark, say
from counts.samples import Kind
from reports.charts import THEMES, dressed
from reports.drawings import defined, drawn, rows_of
from reports.season_beside import ROOMY, placed
from reports.season_marks import FALL_WORDS, KIND_WORDS, Place, Point, Season

VERSION = 2
"""Raised when the drawing changes, so that no old one is taken from the cache."""
WIDTHS = {"wide": 640, "narrow": 262}
TITLES = {
    Place.JARS: mark("Mites per 100 bees"),
    Place.BOARDS: mark("Mites per day (boards)"),
    Place.FALL: mark("Mites per day under a treatment"),
}
HEIGHTS = {Place.JARS: 200, Place.BOARDS: 150, Place.FALL: 90}
SHAPES = {
    KIND_WORDS[Kind.WASH]: "circle",
    KIND_WORDS[Kind.ROLL]: "triangle-up",
    KIND_WORDS[Kind.BOARD]: "square",
    FALL_WORDS: "cross",
}
DAY = 86_400_000
MARK = (4.0, 8.0)
"""Pixels across a mark where many stand together, and where few do (our choice)."""
THIN = 6.0
"""Smaller marks have a thinner line, or their shapes would fill up (our choice)."""
BAND_MIN = 4.0
"""A treatment of one day is drawn so many pixels wide, or it could not be seen (our choice)."""
AXIS_ROOM = 34
"""Pixels for the figures beside each axis: the same for all, so that their days stand under each other."""
TICKS = {"wide": ((9, 1), (18, 2)), "narrow": ((6, 2), (9, 3))}
"""Up to so many months shown, a name every so many months; beyond, every half year."""


def season_svg(season: Season, *, theme: str, size: str) -> str:
    """The chart as SVG; drawn once for what it shows, then taken from the cache."""
    shows = [VERSION, theme, size, repr(season)]
    return drawn("season-chart", shows, lambda: defined(season_chart(season, theme=theme, size=size)))


def season_chart(season: Season, *, theme: str, size: str) -> alt.TopLevelMixin:
    """The definition: treatments in words, then a part for each place that has counts."""
    colours = THEMES[theme]
    parts = [_named_bands(season, colours, WIDTHS[size])] if season.bands else []
    parts += [_panel(season, colours, place, size) for place in Place if season.drawn_in(place)]
    apart = alt.Resolve(scale=alt.ScaleResolveMap(shape="independent"))
    return dressed(alt.vconcat(*parts, spacing=14, background=colours["sheet"], resolve=apart), colours)


def _time(season: Season, field: str, axis: Any) -> Any:
    ends = [_at(season.begins), _at(season.until) + DAY]
    scale = alt.Scale(type="utc", domain=ends, nice=False, padding=MARK[1])
    return alt.X(f"{field}:T", title=None, axis=axis, scale=scale)


def _named_bands(season: Season, colours: dict[str, str], width: int) -> Any:
    names = list(dict.fromkeys(band.ingredient for band in season.bands))
    row = alt.Y("ingredient:N", sort=names, title=None, axis=None)
    base = alt.Chart(rows_of(_band_values(season, width)))
    bars = base.mark_bar(height=9, yOffset=8, color=colours["ink"], opacity=0.75).encode(
        x=_time(season, "first", None), x2="last:T", y=row
    )
    named = alt.Chart(rows_of([{"ingredient": name} for name in names]))
    words = named.mark_text(align="left", dy=-7, fontSize=13, color=colours["ink"]).encode(
        x=alt.value(2), y=row, text="ingredient:N"
    )
    return alt.layer(bars, words, width=width, height=34 * len(names))


def _panel(season: Season, colours: dict[str, str], place: Place, size: str) -> Any:
    points, width = season.drawn_in(place), WIDTHS[size]
    across = _across(points, width)
    data = rows_of(_point_values(season, points, width, across))
    axis = _month_axis(season, size)
    base = alt.Chart(data).encode(x=_time(season, "on", axis))
    layers = [
        *_ranges(base, colours, across),
        _level(season, colours, place).encode(x=_time(season, "first", axis), x2="last:T", y="level:Q"),
        base.mark_point(strokeWidth=2 if across >= THIN else 1.3, size=across**2, opacity=1).encode(
            y="rate:Q",
            shape=_shapes(points, colours),
            fill=alt.value(colours["sheet"]),
            stroke=alt.value(colours["ink"]),
        ),
    ]
    if season.bands:
        shade = alt.Chart(rows_of(_band_values(season, width)))
        # The shade alone is too pale to be seen by everybody: its edges say from when to when.
        bands = shade.mark_rect(
            fill=colours["muted"],
            fillOpacity=0.22,
            opacity=1,
            stroke=colours["muted"],
            strokeWidth=1,
            strokeOpacity=0.9,
        )
        layers.insert(0, bands.encode(x=_time(season, "first", axis), x2="last:T"))
    title = alt.TitleParams(
        say(TITLES[place]),
        anchor="start",
        frame="group",
        fontSize=13,
        fontWeight="normal",
        color=colours["muted"],
    )
    return alt.layer(*layers, width=width, height=HEIGHTS[place], title=title)


def _ranges(base: Any, colours: dict[str, str], across: float) -> list[Any]:
    """Ranges as bars: full, or an outline where one colony of a yard shows its own."""
    up = alt.Y("low:Q", axis=alt.Axis(title=None, minExtent=AXIS_ROOM), scale=alt.Scale(zero=True))
    full = base.transform_filter("!datum.alone").mark_bar(
        width=across * 0.8, color=colours["accent"], opacity=0.65
    )
    outline = base.transform_filter("datum.alone").mark_bar(
        width=across * 0.8, fill=colours["sheet"], stroke=colours["accent"], strokeWidth=1.5
    )
    return [full.encode(y=up, y2="high:Q"), outline.encode(y=up, y2="high:Q")]


def _level(season: Season, colours: dict[str, str], place: Place) -> Any:
    lines = [
        {"first": _at(span.first), "last": _at(span.last) + DAY, "level": span.level}
        for span in season.shown_levels
        if span.place is place
    ]
    return alt.Chart(rows_of(lines)).mark_rule(color=colours["above"], strokeWidth=2)


def _shapes(points: Sequence[Point], colours: dict[str, str]) -> Any:
    """A shape for each kind of count that is there, named above the axis."""
    shapes = {say(words): shape for words, shape in SHAPES.items()}
    there = [kind for kind in shapes if kind in {point.method for point in points}]
    legend = alt.Legend(
        orient="top",
        title=None,
        symbolStrokeWidth=2,
        labelFontSize=13,
        labelColor=colours["ink"],
        labelLimit=WIDTHS["narrow"],
    )
    return alt.Shape(
        "method:N", scale=alt.Scale(domain=there, range=[shapes[kind] for kind in there]), legend=legend
    )


def _across(points: Sequence[Point], width: int) -> float:
    """How wide a mark is drawn: smaller where many share the width."""
    smallest, largest = MARK
    return round(min(largest, max(smallest, width / len(points) / ROOMY)), 1)


def _point_values(season: Season, points: Sequence[Point], width: int, across: float) -> list[dict[str, Any]]:
    """Counts as rows, oldest first; those that would cover each other side by side."""
    pixel = _per_pixel(season, width)
    days = [(_at(point.on) + DAY / 2) / pixel for point in points]
    return [
        {
            "on": round(place * pixel),
            "rate": point.rate,
            "low": point.low,
            "high": point.high,
            "method": point.method,
            "alone": point.alone,
        }
        for point, place in zip(points, placed(days, across), strict=True)
    ]


def _band_values(season: Season, width: int) -> list[dict[str, Any]]:
    """Bands, wide enough to be seen, and never before the chart begins."""
    least = round(BAND_MIN * _per_pixel(season, width))
    return [
        {
            "first": max(_at(band.first), _at(season.begins)),
            "last": max(_at(band.last) + DAY, _at(band.first) + least),
            "ingredient": band.ingredient,
        }
        for band in season.bands
    ]


def _month_axis(season: Season, size: str) -> Any:
    months = (season.until - season.begins).days / 30.44
    step = next((step for most, step in TICKS[size] if months <= most), 6 if size == "narrow" else 3)
    ticks = {"interval": "month", "step": step}
    return alt.Axis(format="%b %Y", tickCount=ticks, labelOverlap=True, labelFlush=False)


def _per_pixel(season: Season, width: int) -> float:
    """Milliseconds that a pixel stands for."""
    return (_at(season.until) + DAY - _at(season.begins)) / width


def _at(on: dt.date) -> int:
    """Midnight UTC in milliseconds, as the chart's axis counts."""
    return int(dt.datetime(on.year, on.month, on.day, tzinfo=dt.UTC).timestamp() * 1000)
