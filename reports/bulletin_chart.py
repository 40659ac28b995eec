"""The chart of a bulletin: one bar for each region that has a figure, from one definition for page and paper."""

from collections.abc import Sequence
from typing import Any

import altair as alt

from apiaries.language import say
from reports.bulletin_figures import Figure, KindFigures, RegionFigure
from reports.charts import THEMES, dressed
from reports.drawings import defined, drawn, rows_of

VERSION = 1
"""Raised when the drawing changes, so that no old one is taken from the cache."""
SIZES = {"wide": (560, 34, 220), "narrow": (210, 34, 100), "paper": (620, 23, 220)}
"""Width of the part that is drawn in, height for each region, most for a name; in pixels."""
BESIDE = 9


def bulletin_svg(
    regions: Sequence[RegionFigure], unit: str, *, theme: str = "light", size: str = "wide"
) -> str:
    """The chart as SVG, in the order given; drawn once for what it shows, then taken from the cache."""
    rows = [_row(one, one.figure) for one in regions if one.figure is not None]
    shows = [VERSION, rows, unit, theme, size]
    return drawn("bulletin-chart", shows, lambda: defined(_chart(rows, unit, theme, size)))


def chart_words(kind: KindFigures) -> str:
    """What the chart shows, for those who do not see it."""
    said = [say("Mites {unit}, a bar for each region.", unit=kind.unit)]
    for one, figure in kind.shown[:8]:
        if figure.none_found:
            said.append(say("{region}: none found, up to {most}.", region=one.name, most=figure.most))
        else:
            said.append(
                say("{region}: {rate}, range {range}.", region=one.name, rate=figure.told, range=figure.range)
            )
    return " ".join([*said, *([say("The table has the others.")] if len(kind.shown) > 8 else [])])


def _row(region: RegionFigure, figure: Figure) -> dict[str, Any]:
    before, share = region.before, region.share
    return {
        "region": region.name,
        "rate": figure.rate,
        "low": figure.low,
        "high": figure.high,
        "level": share.level if share else None,
        "then": before.rate if before else None,
        "then_low": before.low if before else None,
        "then_high": before.high if before else None,
    }


def _chart(rows: Sequence[dict[str, Any]], unit: str, theme: str, size: str) -> alt.TopLevelMixin:
    """Bars are ranges, rings the estimates, strokes the action level; a thin line with a square is a year before."""
    colours, (width, step, name_width) = THEMES[theme], SIZES[size]
    names = alt.Y(
        "region:N",
        title=None,
        sort=[row["region"] for row in rows],
        axis=alt.Axis(labelLimit=name_width, ticks=False, grid=False),
    )
    scale = alt.Scale(zero=True, nice=True)
    base = alt.Chart().encode(y=names)
    along = alt.X("low:Q", title=say("Mites {unit}", unit=unit), scale=scale, axis=alt.Axis(grid=True))
    then = base.transform_filter("isValid(datum.then)")
    layers = [
        base.mark_bar(height=11, color=colours["accent"], opacity=0.65).encode(x=along, x2="high:Q"),
        base.mark_tick(thickness=2.6, color=colours["above"], size=21).encode(
            x=alt.X("level:Q", scale=scale)
        ),
        base.mark_point(
            filled=True, fill=colours["sheet"], stroke=colours["ink"], strokeWidth=2, size=70, opacity=1
        ).encode(x=alt.X("rate:Q", scale=scale)),
        then.mark_rule(strokeWidth=2, color=colours["ink"], yOffset=BESIDE).encode(
            x=alt.X("then_low:Q", scale=scale), x2="then_high:Q"
        ),
        then.mark_point(
            shape="square", filled=True, fill=colours["ink"], size=34, opacity=1, yOffset=BESIDE
        ).encode(x=alt.X("then:Q", scale=scale)),
    ]
    chart = alt.layer(*layers, data=rows_of(rows))
    sized = chart.properties(width=width, height=alt.Step(step), background=colours["sheet"])
    return dressed(sized, colours)
