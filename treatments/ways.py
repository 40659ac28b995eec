"""The ways of treating a club can choose from, with what is published about each: limits, cautions, sources."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache

from apiaries.language import figure, say
from apiaries.models import Club
from apiaries.reference import cautions
from counts.reference import rows_of
from treatments.models import Application
from treatments.possible_words import in_both_scales
from treatments.way_words import INGREDIENT_WORDS, limit_words

EU_COUNTRIES = ("AT", "DE", "FR", "IE")
NONE_STATED = "none stated"
GENERAL = ("any", "honey", "medicine", "lone_work")


@dataclass(frozen=True, slots=True)
class Limit:
    """One published limit of a way of treating, with its year, how far it can be trusted, and its source."""

    text: str
    year: str
    mark: str
    source: str
    note: str
    key: str
    """Its name in the file."""
    value: str
    """What the file says without its unit, in no reader's marks: to reckon with."""

    @property
    def name(self) -> str:
        """What it is called in the language of whoever reads."""
        return limit_words(self.key)


Groups = list[tuple[str, list[Application]]]


def ways_for(club: Club, on: dt.date) -> tuple[Groups, Groups]:
    """Ways of the club's labels and those of no country in particular, by ingredient: those in force, then those
    whose label no longer holds on that day."""
    places = [club.jurisdiction, "any"] + (["EU"] if club.jurisdiction in EU_COUNTRIES else [])
    # A club that follows no country's labels may choose among all.
    rows = (
        Application.objects.all()
        if club.jurisdiction == "any"
        else Application.objects.filter(jurisdiction__in=places)
    )
    ordered = sorted(rows, key=lambda one: (one.name, one.jurisdiction))
    past = [one for one in ordered if one.valid_to is not None and one.valid_to < on]
    return _by_ingredient(one for one in ordered if one not in past), _by_ingredient(past)


def earlier_label(application: Application) -> Application | None:
    """The label that held before this one; None where none is kept."""
    if application.valid_from is None:
        return None
    same = Application.objects.filter(
        ingredient=application.ingredient, way=application.way, jurisdiction=application.jurisdiction
    )
    return same.filter(valid_to__lt=application.valid_from).order_by("-valid_to").first()


def _by_ingredient(rows: Iterable[Application]) -> Groups:
    groups: dict[str, list[Application]] = {}
    for row in rows:
        groups.setdefault(INGREDIENT_WORDS.get(row.ingredient, row.ingredient), []).append(row)
    return sorted(groups.items(), key=lambda group: list(INGREDIENT_WORDS.values()).index(group[0]))


def limits_of(application: Application) -> list[Limit]:
    """What is published about it, limit by limit, in the order of the file."""
    return [
        Limit(
            _amount(row),
            row["year"],
            say(row["mark"]),
            say(row["source"]),  # of the sources only the word that there is none is ever translated
            say(row["note"]),
            row["limit"],
            row["value"],
        )
        for row in _limits()
        if row["application"] == application.key
    ]


def _amount(row: dict[str, str]) -> str:
    if row["value"] == NONE_STATED:
        return say("No limit is stated.")
    amount, unit = row["value"], say(row["unit"])
    if row["unit"].partition(",")[0] == "C":
        return in_both_scales(amount) + unit[len(unit.partition(",")[0]) :]
    return f"{say(amount) if amount.isascii() and amount[:1].isalpha() else figure(amount)} {unit}".strip()


def cautions_for(application: Application) -> list[str]:
    """The usual cautions of this ingredient and this way of giving it, the label first."""
    return [
        row["sentence"]
        for row in cautions()
        if row["ingredient"] in ("", application.ingredient)
        and row["way"] in ("", application.way)
        and (row["ingredient"] or row["where"] in GENERAL)
    ]


@cache
def _limits() -> tuple[dict[str, str], ...]:
    return tuple(rows_of("dated_limits.csv"))
