"""A bulletin on one sheet of paper, drawn from what is kept of it."""

from pathlib import Path
from typing import Any

from apiaries.language import say, say_many
from apiaries.paper import Paper, set_pdf
from reports.bulletin_chart import bulletin_svg
from reports.bulletin_figures import State
from reports.bulletin_page import BulletinPage, KindTable, Line
from reports.bulletin_pieces import COUNTS_OF, listed

TEMPLATE = Path(__file__).resolve().parent / "sheets" / "bulletin.typ"
DRAWN_MOST = 8
"""Regions in the chart, which are the first of the table (our choice)."""
ROWS = (48, 36, 24, 16, 12, 8, 4, 0)
"""So many rows are tried, the most first, until the page holds them; below 16 without the chart (our choice)."""
CHART_FROM = 16


def bulletin_pdf(page: BulletinPage, *, address: str, paper: Paper) -> bytes:
    """The sheet; `address` is where the whole table stands."""
    return set_pdf(TEMPLATE, sheet_data(page, address=address), paper=paper)


def sheet_data(page: BulletinPage, *, address: str) -> dict[str, Any]:
    """What the template is given: plain texts, nothing to be read as its language, and the tables to try."""
    club, draft = page.bulletin.club, page.bulletin.is_draft
    table = next((one for one in page.tables if one.kind.shown), None)
    lines = table.first_lines() if table else []
    return {
        "title": page.title,
        "club": club.name,
        "standing": page.standing,
        "marked": draft or page.bulletin.is_withdrawn,
        "foreword": page.foreword,
        "paragraphs": [[one.title, one.text] for one in page.paragraphs],
        "table_title": table.title if table else "",
        "columns": _columns(table, page.last_year) if table else [],
        "rows": [_row(line, table) for line in lines] if table else [],
        "tries": _tries(len(lines)),
        "chart": _chart(table) if table else "",
        "chart_alt": table.alt if table else "",
        "chart_words": _chart_words(table, page.last_year) if table else "",
        "left": [_left(rows, len(lines), page, address) for rows in range(len(lines) + 1)],
        "foot": say("{club}, bulletin for {month}. {who}", club=club.name, month=page.month, who=_who(page)),
    }


def _tries(number: int) -> list[dict[str, Any]]:
    """What may stand on the page, the fullest first: rows of the table, and whether the chart."""
    counts = sorted({min(most, number) for most in ROWS}, reverse=True)
    with_chart = [rows for rows in counts if rows and (rows == number or rows >= CHART_FROM)]
    tries = [(rows, True) for rows in with_chart] + [(rows, False) for rows in counts]
    return [{"rows": rows, "chart": chart} for rows, chart in tries]


def _chart(table: KindTable) -> str:
    first = [line.region for line in table.first_lines()[:DRAWN_MOST]]
    return bulletin_svg(first, table.kind.unit, size="paper")


def _columns(table: KindTable, last_year: int) -> list[str]:
    return [
        say("Region"),
        say("Mean of yards"),
        say("Range"),
        say("Median yard"),
        say("Above {level} (range)", level=table.level)
        if table.level
        else say("Above the action level (range)"),
        say("Yards"),
        say("In {year}", year=last_year),
    ]


def _row(line: Line, table: KindTable) -> list[str]:
    name = f"{line.region.name} ({line.marks})" if line.marks else line.region.name
    return [name, line.rate, line.range, line.median, line.share, line.region.yards, line.before]


def _chart_words(table: KindTable, last_year: int) -> str:
    unit = table.kind.unit
    told = (
        say(
            "Bars are ranges of the first {n} regions, rings the means, in mites {unit}",
            n=DRAWN_MOST,
            unit=unit,
        )
        if len(table.kind.shown) > DRAWN_MOST
        else say("Bars are ranges, rings the means, in mites {unit}", unit=unit)
    )
    level = [say("the stroke is the action level")] if table.level else []
    before = [say("the thin line with a square is {year}", year=last_year)] if table.has_before else []
    return "; ".join([told, *level, *before]) + "."


def _left(rows: int, number: int, page: BulletinPage, address: str) -> str:
    """What a table of so many rows leaves out, and where it stands."""
    said = []
    if rows < number:
        said.append(
            say_many(
                "Left out for room: {n} region with figures.",
                "Left out for room: {n} regions with figures.",
                number - rows,
            )
        )
    main = next((one.kind for one in page.tables if one.kind.shown), None)
    hidden = [len(main.of(state)) for state in (State.HIDDEN, State.NOT_COUNTED)] if main else [0, 0]
    if any(hidden):
        said.append(
            say(
                "Without a figure: {hidden} hidden, {uncounted} without counts.",
                hidden=hidden[0],
                uncounted=hidden[1],
            )
        )
    others = [say(COUNTS_OF[one.kind.kind]) for one in page.tables if main and one.kind is not main]
    said += [say("Told apart from {counts}.", counts=listed(others))] if others else []
    return " ".join([*said, say("All figures: {address}", address=address)])


def _who(page: BulletinPage) -> str:
    if page.bulletin.is_draft:
        return say("A draft, not for members.")
    said = [say("For members of the club; the same figures for everybody.")]
    return " ".join([*said, *([say("An invented club.")] if page.bulletin.club.is_invented else [])])
