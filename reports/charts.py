"""One chart of a region's (or several regions') months, from one definition, as SVG without a browser or the network.

Bars are ranges, rings the estimates, short strokes the action level; a thin line with a square beside them is the same
month of another year. A month without a bar has no samples or too few
keepers; the table beside the chart says which.
"""

import datetime as dt
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any, Protocol

import altair as alt

from apiaries.language import month_short, say
from apiaries.models import Region
from apiaries.templatetags.recount_words import one_decimal
from reports.drawings import defined, drawn, rows_of
from reports.region_cells import Past

VERSION = 3
"""Raised when the drawing changes, so that no old one is taken from the cache."""

# The pages' own tokens (config/static/recount.css; a test holds them together).
THEMES = {
    "light": {
        "sheet": "#ffffff",
        "ink": "#12212a",
        "muted": "#43545e",
        "rule": "#c3ced0",
        "accent": "#0a5257",
        "above": "#a34700",
        "edge": "#64757d",
        "heat-a": "#faf6ec",
        "heat-b": "#f6e6c4",
        "heat-c": "#efcf95",
        "heat-d": "#e5b869",
        "heat-e": "#d9a24a",
    },
    "dark": {
        "sheet": "#18242a",
        "ink": "#eef3f3",
        "muted": "#b4c2c6",
        "rule": "#35464e",
        "accent": "#86cdc9",
        "above": "#ff9f6e",
        "edge": "#82959d",
        "heat-a": "#202b2f",
        "heat-b": "#33331f",
        "heat-c": "#473e1c",
        "heat-d": "#5a4818",
        "heat-e": "#67500f",
    },
}
SIZES = {"wide": (2, 470, 680), "narrow": (1, 262, 262)}
"""Charts side by side; width of one of several, of a single one."""
BESIDE = -8
"""Pixels from a month's own mark to that of the other year, which comes before it (our choice)."""


@dataclass(frozen=True)
class Mark:
    """One month of one region that may be shown, in the unit of the pages."""

    region: str
    month: str
    rate: float
    low: float
    high: float
    level: float | None
    other: float | None = None
    """The same month of the year to compare with, if there is one, with its range."""
    other_low: float | None = None
    other_high: float | None = None


class MonthCell(Protocol):
    """One region's month on a page of regions, live or published; rates in the page's unit."""

    @property
    def region(self) -> Region: ...
    @property
    def shown(self) -> bool: ...
    @property
    def rate(self) -> float | None: ...
    @property
    def low(self) -> float | None: ...
    @property
    def high(self) -> float | None: ...
    @property
    def level_rate(self) -> float | None: ...


def mark_of(cell: MonthCell, month: dt.date, other: Past | None = None) -> Mark | None:
    """What a chart draws of a cell, and of the same month of another year; None where there is no figure to show."""
    rate, low, high = cell.rate, cell.low, cell.high
    if not cell.shown or rate is None or low is None or high is None:
        return None
    beside = (other.rate, other.low, other.high) if other else (None, None, None)
    return Mark(cell.region.name, month_short(month.month), rate, low, high, cell.level_rate, *beside)


def regions_of(marks: Sequence[Mark]) -> list[str]:
    """Names of the regions that have something to draw, in the order of the marks."""
    return list(dict.fromkeys(mark.region for mark in marks))


def chart_alt(marks: Sequence[Mark], head: str) -> str:
    """What a chart says, for those who do not see it: of each region the highest month and the last."""
    said = [head]
    for name in regions_of(marks):
        own = [mark for mark in marks if mark.region == name]
        top, last = max(own, key=lambda mark: mark.rate), own[-1]
        if top is last:
            said.append(say("{region}: highest in {month}.", region=name, month=_told(top)))
        else:
            said.append(
                say(
                    "{region}: highest in {month}, last in {last}.",
                    region=name,
                    month=_told(top),
                    last=_told(last),
                )
            )
    return " ".join([*said, say("The table has every figure.")])


def _told(mark: Mark) -> str:
    return say(
        "{month} with {rate} ({low} to {high})",
        month=mark.month,
        rate=one_decimal(mark.rate),
        low=one_decimal(mark.low),
        high=one_decimal(mark.high),
    )


def chart_svg(marks: Sequence[Mark], *, regions: Sequence[str], unit: str, theme: str, size: str) -> str:
    """The chart as SVG; drawn once for what it shows, then taken from the cache."""
    shown = [VERSION, [asdict(mark) for mark in marks], list(regions), unit, theme, size]
    return drawn(
        "region-chart",
        shown,
        lambda: defined(region_chart(marks, regions=regions, unit=unit, theme=theme, size=size)),
    )


def region_chart(
    marks: Sequence[Mark], *, regions: Sequence[str], unit: str, theme: str, size: str
) -> alt.TopLevelMixin:
    """The definition: one small chart per region on a common scale, or one larger one."""
    colours, (columns, several, single) = THEMES[theme], SIZES[size]
    data = rows_of([asdict(mark) for mark in marks])
    compared = any(mark.other is not None for mark in marks)
    layers = _layers(unit, colours, narrow=size == "narrow", compared=compared)
    if len(regions) == 1:
        chart = alt.layer(*layers, data=data).properties(width=single, height=240)
    else:
        facet = alt.Facet("region:N", title=None, sort=list(regions), header=alt.Header(labelAnchor="start"))
        sized = alt.layer(*layers, data=data).properties(width=several, height=150)
        # An axis each: a shared one would also stand under an empty place of the last row.
        chart = sized.facet(facet=facet, columns=columns).resolve_axis(x="independent")
    return dressed(chart.properties(background=colours["sheet"]), colours)


def _layers(unit: str, colours: dict[str, str], *, narrow: bool, compared: bool) -> list[Any]:
    labels = "slice(datum.label, 0, 1)" if narrow else "datum.label"
    month = alt.X(
        "month:O",
        title=None,
        scale=alt.Scale(domain=[month_short(number) for number in range(1, 13)]),
        axis=alt.Axis(labelAngle=0, labelExpr=labels, ticks=False),
    )
    scale = alt.Scale(zero=True, nice=True)
    base = alt.Chart().encode(x=month)
    own = [
        base.mark_bar(width=11, color=colours["accent"], opacity=0.65).encode(
            y=alt.Y("low:Q", title=say("Mites {unit}", unit=unit), scale=scale), y2="high:Q"
        ),
        base.mark_tick(thickness=2.6, color=colours["above"], width=21).encode(
            y=alt.Y("level:Q", scale=scale)
        ),
        base.mark_point(
            filled=True, fill=colours["sheet"], stroke=colours["ink"], strokeWidth=2, size=70, opacity=1
        ).encode(y=alt.Y("rate:Q", scale=scale)),
    ]
    if not compared:
        return own
    aside = base.transform_filter("isValid(datum.other)")
    return [
        *own,
        aside.mark_rule(strokeWidth=2, color=colours["ink"], xOffset=BESIDE).encode(
            y=alt.Y("other_low:Q", scale=scale), y2="other_high:Q"
        ),
        aside.mark_point(
            shape="square", filled=True, fill=colours["ink"], size=34, opacity=1, xOffset=BESIDE
        ).encode(y=alt.Y("other:Q", scale=scale)),
    ]


def dressed(chart: Any, colours: dict[str, str]) -> Any:
    text: dict[str, Any] = {
        "labelColor": colours["ink"],
        "titleColor": colours["muted"],
        "labelFontSize": 13,
        "titleFontSize": 13,
    }
    # Set, not configured in turn: each turn would copy the whole chart.
    chart.config = alt.Config(
        font="sans-serif",
        view=alt.ViewConfig(stroke=None),
        axis=alt.AxisConfig(
            gridColor=colours["rule"],
            domainColor=colours["muted"],
            tickColor=colours["muted"],
            titleFontWeight="normal",
            tickCount=5,
            **text,
        ),
        axisX=alt.AxisConfig(grid=False),
        header=alt.HeaderConfig(labelColor=colours["ink"], labelFontSize=15, labelFontWeight="bold"),
    )
    return chart
