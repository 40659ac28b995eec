"""A bulletin on one sheet of paper, drawn from what is kept of it."""

from pathlib import Path
from typing import Any

from apiaries.paper import Paper, set_pdf
from reports.bulletin_chart import bulletin_svg
from reports.bulletin_figures import State
from reports.bulletin_page import BulletinPage, KindTable, Line
from reports.bulletin_words import COUNTS_OF, listed

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
        "foot": f"{club.name}, {page.title[0].lower()}{page.title[1:]}. {_who(page)}",
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
    level = f"Above {table.level}" if table.level else "Above the action level"
    return ["Region", "Mean of yards", "Range", "Median yard", f"{level} (range)", "Yards", f"In {last_year}"]


def _row(line: Line, table: KindTable) -> list[str]:
    name = f"{line.region.name} ({line.marks})" if line.marks else line.region.name
    return [name, line.rate, line.range, line.median, line.share, line.region.yards, line.before]


def _chart_words(table: KindTable, last_year: int) -> str:
    first = f" of the first {DRAWN_MOST} regions" if len(table.kind.shown) > DRAWN_MOST else ""
    level = "; the stroke is the action level" if table.level else ""
    before = f"; the thin line with a square is {last_year}" if table.has_before else ""
    return f"Bars are ranges{first}, rings the means, in mites {table.kind.unit}{level}{before}."


def _left(rows: int, number: int, page: BulletinPage, address: str) -> str:
    """What a table of so many rows leaves out, and where it stands."""
    said = []
    if rows < number:
        regions = "region" if number - rows == 1 else "regions"
        said.append(f"Left out for room: {number - rows} {regions} with figures.")
    main = next((one.kind for one in page.tables if one.kind.shown), None)
    hidden = [len(main.of(state)) for state in (State.HIDDEN, State.NOT_COUNTED)] if main else [0, 0]
    said += [f"Without a figure: {hidden[0]} hidden, {hidden[1]} without counts."] if any(hidden) else []
    others = [COUNTS_OF[one.kind.kind] for one in page.tables if main and one.kind is not main]
    said += [f"Told apart from {listed(others)}."] if others else []
    return " ".join([*said, f"All figures: {address}"])


def _who(page: BulletinPage) -> str:
    if page.bulletin.is_draft:
        return "A draft, not for members."
    invented = " An invented club." if page.bulletin.club.is_invented else ""
    return f"For members of the club; the same figures for everybody.{invented}"
