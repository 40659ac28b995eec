"""What each body has published to act at, in words: read where a club chooses whose action levels it compares with.

The words of a count are made in `counts`; here the lines of the table are only told, none compared with anything.
"""

from dataclasses import dataclass

from apiaries.language import figure, mark, month_name, say
from apiaries.reference import issuers, level_rows

JAR = "jar"
KINDS = {
    JAR: mark("Wash or roll"),
    "board": mark("Board, natural drop"),
    "drone_brood": mark("Drone brood opened"),
}
FROM = {
    "per_100_bees": mark("from {n} per 100 bees"),
    "per_10_g": mark("from {n} per 10 g of bees"),
    "per_50_g": mark("from {n} per 50 g of bees"),
    "per_day": mark("from {n} a day"),
    "per_2_days": mark("from {n} in 2 days"),
    "percent_cells": mark("from {n} % of the cells"),
}
MORE_THAN = {
    "per_100_bees": mark("more than {n} per 100 bees"),
    "per_10_g": mark("more than {n} per 10 g of bees"),
    "per_50_g": mark("more than {n} per 50 g of bees"),
    "per_day": mark("more than {n} a day"),
    "per_2_days": mark("more than {n} in 2 days"),
    "percent_cells": mark("more than {n} % of the cells"),
}
BROOD = {"none": mark("without brood"), "some_or_plenty": mark("with brood")}
NO_LEVEL = mark("no level that a count can be compared with by its date")
NO_JAR = mark("no level for washes and rolls that holds by date alone")


@dataclass(frozen=True)
class IssuerLevels:
    """One body: its published lines, and in words what it has nothing for (empty if it has a level for jars)."""

    key: str
    name: str
    lines: tuple[str, ...]
    lacks: str


def issuer_levels() -> list[IssuerLevels]:
    """Every body in the order of the choice, in the reader's language."""
    rows = [row for row in level_rows() if not row["derived_from"]]
    return [_of(key, name, [row for row in rows if row["issuer"] == key]) for key, name in issuers()]


def _of(key: str, name: str, rows: list[dict[str, str]]) -> IssuerLevels:
    # A condition that no date tells is never picked by itself, so no count is compared with such a line.
    kinds = {row["kind"] for row in rows if row["act_at"] and not row["only_when"]}
    lacks = "" if JAR in kinds else NO_JAR if kinds else NO_LEVEL
    return IssuerLevels(key, name, tuple(_line(row) for row in rows), say(lacks))


def _line(row: dict[str, str]) -> str:
    told = [_months(row["from_month"], row["to_month"])]
    told += [say(BROOD[row["brood"]])] if row["brood"] and not row["only_when"] else []
    told += [say("only: {when}", when=say(row["only_when"]))] if row["only_when"] else []
    told += [say(row["mark"])] if row["mark"] != "published" else []
    return say(
        "{method}: {level} ({when})", method=say(KINDS[row["kind"]]), level=_level(row), when=", ".join(told)
    )


def _level(row: dict[str, str]) -> str:
    if not row["act_at"]:
        return say("no rate to act at")
    words = FROM if row["act_inclusive"] == "true" else MORE_THAN
    return say(words[row["unit"]], n=figure(f"{float(row['act_at']):g}"))


def _months(first: str, last: str) -> str:
    if not first:
        return say("the whole year")
    if first == last:
        return month_name(int(first))
    return say("{first} to {last}", first=month_name(int(first)), last=month_name(int(last)))


def listed_span(first: str, last: str) -> str:
    """May to July."""
    return say("{first} to {last}", first=first, last=last)
