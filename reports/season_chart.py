"""The season chart, from one definition, as SVG without a browser or the network.

Bars are ranges, rings the estimates, lines the action level; boards have an axis of their own under that of washes and
rolls, and treatments are bands through both with their ingredient in words above.
"""

import datetime as dt
import hashlib
import json
from typing import Any

import altair as alt
import vl_convert
from django.core.cache import cache

from reports.charts import KEPT_FOR, THEMES, dressed
from reports.season import Season

VERSION = 1
WIDTHS = {"wide": 640, "narrow": 262}


def season_svg(season: Season, *, theme: str, size: str) -> str:
    """The chart as SVG; drawn once for what it shows, then taken from the cache."""
    spec = season_chart(season, theme=theme, size=size).to_dict()
    shown = json.dumps([VERSION, spec], sort_keys=True)
    key = "season-chart:" + hashlib.sha256(shown.encode()).hexdigest()
    kept: str | None = cache.get(key)
    if kept is not None:
        return kept
    version = ".".join(alt.SCHEMA_VERSION.lstrip("v").split(".")[:2])
    drawn: str = vl_convert.vegalite_to_svg(spec, vl_version=version)
    cache.set(key, drawn, KEPT_FOR)
    return drawn


def season_chart(season: Season, *, theme: str, size: str) -> alt.TopLevelMixin:
    """The definition: treatments in words, then washes and rolls, then boards; only what there is."""
    colours, width = THEMES[theme], WIDTHS[size]
    parts = [_named_bands(season, colours, width)] if season.bands else []
    for board, title in ((False, "Mites per 100 bees"), (True, "Mites per day (boards)")):
        if any(point.on_board is board and point.rate is not None for point in season.points):
            parts.append(_panel(season, colours, board=board, title=title, width=width, size=size))
    chart = alt.vconcat(*parts, spacing=14).properties(background=colours["sheet"])
    return dressed(chart, colours)


def _time(season: Season, field: str, axis: Any) -> Any:
    ends = [_at(season.since), _at(season.until) + 86_400_000]
    return alt.X(
        f"{field}:T", title=None, axis=axis, scale=alt.Scale(type="utc", domain=ends, nice=False, padding=0)
    )


def _named_bands(season: Season, colours: dict[str, str], width: int) -> Any:
    names = list(dict.fromkeys(band.ingredient for band in season.bands))
    row = alt.Y("ingredient:N", sort=names, title=None, axis=None)
    base = alt.Chart(alt.InlineData(values=_band_values(season)))
    bars = base.mark_bar(height=9, yOffset=8, color=colours["ink"], opacity=0.75).encode(
        x=_time(season, "first", None), x2="last:T", y=row
    )
    named = alt.Chart(alt.InlineData(values=[{"ingredient": name} for name in names]))
    words = named.mark_text(align="left", dy=-7, fontSize=13, color=colours["ink"]).encode(
        x=alt.value(2), y=row, text="ingredient:N"
    )
    return alt.layer(bars, words).properties(width=width, height=34 * len(names))


def _panel(season: Season, colours: dict[str, str], *, board: bool, title: str, width: int, size: str) -> Any:
    points = [
        {"on": _at(p.on), "rate": p.rate, "low": p.low, "high": p.high, "ranged": p.low is not None}
        for p in season.points
        if p.on_board is board and p.rate is not None
    ]
    lines = [
        {"first": _at(span.first), "last": _at(span.last), "level": span.level}
        for span in season.levels
        if span.on_board is board
    ]
    ticks = {"interval": "month", "step": 2 if size == "wide" else 6}
    axis = alt.Axis(format="%b %Y" if size == "narrow" else "%b %y", tickCount=ticks, labelOverlap=True)
    base = alt.Chart(alt.InlineData(values=points)).encode(x=_time(season, "on", axis))
    ring: dict[str, Any] = {"stroke": colours["ink"], "strokeWidth": 2, "size": 60, "opacity": 1}
    whole, alone = base.transform_filter("datum.ranged"), base.transform_filter("!datum.ranged")
    layers = [
        whole.mark_bar(width=7, color=colours["accent"], opacity=0.65).encode(
            y=alt.Y("low:Q", title=title, scale=alt.Scale(zero=True)), y2="high:Q"
        ),
        alt.Chart(alt.InlineData(values=lines))
        .mark_rule(color=colours["above"], strokeWidth=2)
        .encode(x=_time(season, "first", axis), x2="last:T", y="level:Q"),
        whole.mark_point(filled=True, fill=colours["sheet"], **ring).encode(y="rate:Q"),
        alone.mark_point(filled=False, shape="diamond", **ring).encode(y="rate:Q"),
    ]
    if season.bands:
        shade = alt.Chart(alt.InlineData(values=_band_values(season)))
        bands = shade.mark_rect(color=colours["muted"], opacity=0.22)
        layers.insert(0, bands.encode(x=_time(season, "first", axis), x2="last:T"))
    return alt.layer(*layers).properties(width=width, height=130 if board else 200)


def _band_values(season: Season) -> list[dict[str, Any]]:
    """Bands, at least three days wide so that a single day can be seen, and never before the chart begins."""
    return [
        {
            "first": max(_at(band.first), _at(season.since)),
            "last": max(_at(band.last) + 86_400_000, _at(band.first) + 3 * 86_400_000),
            "ingredient": band.ingredient,
        }
        for band in season.bands
    ]


def _at(on: dt.date) -> int:
    """Midnight UTC in milliseconds, as the chart's axis counts."""
    return int(dt.datetime(on.year, on.month, on.day, tzinfo=dt.UTC).timestamp() * 1000)
