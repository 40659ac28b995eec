"""A drawing's definition as SVG, without a browser or the network, with the marks and months of the reader's language.

Drawn once for what it shows, then taken from the cache: what it is kept under holds the language.
"""

import hashlib
import json
from collections.abc import Callable, Iterable
from typing import Any

import altair as alt
import vl_convert
from altair.utils import schemapi
from django.conf import settings
from django.core.cache import cache
from django.utils.translation import get_language

from apiaries.language import figure, month_name, month_short, weekday_name, weekday_short

KEPT_FOR = 60 * 60 * 24

CHECKED = settings.TESTING
"""Definitions are held against the schema of Vega-Lite by the tests; doing it for each drawing took a third of it."""
if not CHECKED:
    schemapi.disable_debug_mode()


def defined(chart: alt.TopLevelMixin) -> dict[str, Any]:
    """The chart's definition."""
    definition: dict[str, Any] = chart.to_dict(validate=CHECKED)
    return definition


def rows_of(values: Iterable[dict[str, Any]]) -> alt.InlineData:
    """Data of a chart. As a tuple, for the library copies lists and all in them with each part of a chart."""
    return alt.InlineData(values=tuple(values))


def drawn(name: str, shows: object, spec: Callable[[], dict[str, Any]]) -> str:
    """The drawing of what it shows, from the cache or else drawn now; `name` keeps kinds of drawings apart."""
    told = json.dumps([shows, get_language()], sort_keys=True)
    key = f"{name}:{hashlib.sha256(told.encode()).hexdigest()}"
    kept: str | None = cache.get(key)
    if kept is not None:
        return kept
    made: str = vl_convert.vegalite_to_svg(
        spec(), vl_version=".".join(alt.SCHEMA_VERSION.lstrip("v").split(".")[:2]), **_marks()
    )
    cache.set(key, made, KEPT_FOR)
    return made


def _marks() -> dict[str, Any]:
    """How figures and days are written along an axis; nothing where it is the English way."""
    decimal, thousands = figure("."), figure(",")
    if (decimal, thousands) == (".", ","):
        return {}
    numbers = {"decimal": decimal, "thousands": thousands, "grouping": [3], "currency": ["", ""]}
    days = {
        "dateTime": "%x, %X",
        "date": "%d.%m.%Y",
        "time": "%H:%M:%S",
        "periods": ["", ""],
        # They begin with Sunday here.
        "days": [weekday_name((day - 1) % 7) for day in range(7)],
        "shortDays": [weekday_short((day - 1) % 7) for day in range(7)],
        "months": [month_name(month) for month in range(1, 13)],
        "shortMonths": [month_short(month) for month in range(1, 13)],
    }
    return {"format_locale": numbers, "time_format_locale": days}
