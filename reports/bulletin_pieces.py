"""Pieces of a bulletin's sentences: a month, some names, a figure with its range. Pure."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from apiaries.language import listed as joined
from apiaries.language import long_month_year_words, mark, say, say_many
from counts.samples import Kind
from reports.bulletin_figures import Figure, RegionFigure

COUNTS_OF = {Kind.WASH: mark("washes"), Kind.ROLL: mark("rolls"), Kind.BOARD: mark("boards")}
NAMED = 3
"""Of more regions so many names stand in one sentence (our choice: a page is short)."""

Shown = tuple[RegionFigure, Figure]
Change = tuple[RegionFigure, Figure, Figure]
"""A region's month, and the same month a year before."""


def month_words(month: dt.date) -> str:
    """August 2026"""
    return long_month_year_words(month)


def listed(names: Sequence[str], most: int = NAMED) -> str:
    """A, B and C; of more than that the first, and how many more."""
    more = [say_many("{n} more", "{n} more", len(names) - most)] if len(names) > most else []
    return joined([*names[:most], *more])


def named(pair: Shown) -> str:
    """A region with its figure."""
    return f"{pair[0].name}, {figure_words(pair[1])}"


def figure_words(figure: Figure) -> str:
    """A figure with its range."""
    if figure.none_found:
        return say("none found (up to {most})", most=figure.most)
    return say("{rate} (range {range})", rate=figure.told, range=figure.range)


def rate_words(figure: Figure) -> str:
    """A figure without it."""
    return say("none found") if figure.none_found else figure.told
