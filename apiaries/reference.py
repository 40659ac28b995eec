"""Choices that come from the tables of reference data: whose action levels, whose labels."""

import csv
from functools import cache

from django.conf import settings

from apiaries.language import mark, say

JURISDICTION_WORDS = {
    "any": mark("None in particular"),
    "AT": mark("Austria"),
    "AU": mark("Australia"),
    "CA": mark("Canada"),
    "CH": mark("Switzerland"),
    "DE": mark("Germany"),
    "EU": mark("European Union"),
    "FR": mark("France"),
    "GB": mark("United Kingdom"),
    "IE": mark("Ireland"),
    "NZ": mark("New Zealand"),
    "US": mark("United States"),
}

CAUTION_WORDS = ("sentence", "mark", "source", "note")
"""What people read of a caution. Of the sources only the word that there is none is ever translated."""


def issuers() -> list[tuple[str, str]]:
    """(key, name) of everybody whose published action levels are kept, by name; the region in the reader's language."""
    return [(key, f"{name} ({say(region)})" if region else name) for key, name, region in _issuers()]


@cache
def _issuers() -> tuple[tuple[str, str, str], ...]:
    named = {
        row["issuer"]: (row["issuer_name"], row["region"])
        for row in _rows("action_levels.csv")
        if row["issuer"]
    }
    return tuple((key, *words) for key, words in sorted(named.items(), key=lambda item: item[1]))


@cache
def jurisdictions() -> tuple[tuple[str, str], ...]:
    """(code, word) of every place whose labels are kept, "any" first; the words are marked, to be said where shown."""
    codes = {row["jurisdiction"] for row in _rows("applications.csv")} - {"any", ""}
    return (
        ("any", JURISDICTION_WORDS["any"]),
        *((code, JURISDICTION_WORDS.get(code, code)) for code in sorted(codes)),
    )


def level_rows() -> list[dict[str, str]]:
    """The lines of the table of action levels, as they are printed."""
    return _rows("action_levels.csv")


def cautions() -> list[dict[str, str]]:
    """The rows of the table of cautions, in its order; what people read of them in the reader's language."""
    return [row | {name: say(row[name]) for name in CAUTION_WORDS} for row in _rows("cautions.csv")]


@cache
def rows_of_table(name: str) -> list[dict[str, str]]:
    """The lines of a table of reference data, read once for the life of the process."""
    return _rows(name)


def _rows(name: str) -> list[dict[str, str]]:
    place = settings.FIXTURES / name
    if not place.exists():
        return []
    with place.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))
