"""The yard sheet on paper: the colonies drawn, room to write, and the way back into the service."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from apiaries.codes import code_svg
from apiaries.language import mark_as, say, say_as
from apiaries.models import Yard
from apiaries.paper import Paper, set_pdf
from apiaries.templatetags.recount_words import weekday_day
from counts.sheet_order import SheetNumber

TEMPLATE = Path(__file__).resolve().parent / "sheets" / "yard_sheet.typ"
ROWS_ON_PAGE = {Paper.A4: 17, Paper.LETTER: 15}
"""Rows that a page holds beside all the rest; empty ones fill it up, for colonies that were not drawn."""
COLUMNS = (
    mark_as("column of a sheet", "Order"),
    mark_as("column of a sheet", "Colony"),
    mark_as("column of a sheet", "Done"),
    mark_as("column of a sheet", "Mites"),
    mark_as("column of a sheet", "Bees, if counted"),
    mark_as("column of a sheet", "Brood"),
    mark_as("column of a sheet", "Supers"),
    mark_as("column of a sheet", "Remark"),
)
WIDTHS = (3, 6, 2, 3, 4, 3, 3, 7)


@dataclass(frozen=True, slots=True)
class Planned:
    """One yard with its list (`counts.planning.plan_of`), the number of its sheet and the address of its code."""

    yard: Yard
    plan: dict[str, Any]
    number: SheetNumber
    address: str


def yard_sheets_pdf(planned: Sequence[Planned], *, paper: Paper) -> bytes:
    """A sheet for each yard, each on a page of its own."""
    return set_pdf(TEMPLATE, yard_sheets_data(planned, paper=paper), paper=paper)


def yard_sheets_data(planned: Sequence[Planned], *, paper: Paper) -> dict[str, Any]:
    """What the template is given: plain texts, nothing to be read as its language."""
    title = say("Yard sheets")
    if len(planned) == 1:
        title = say("Yard sheet, {yard}", yard=planned[0].yard.name)
    return {
        "title": title,
        "foot": say("{title}. 0 means none found; an empty row was not counted.", title=title),
        "columns": [say_as("column of a sheet", column) for column in COLUMNS],
        "fill_in": {
            "on": say("Counted on"),
            "by": say_as("who counted", "By"),
            "method": say("Method"),
            "bees": say("Bees per jar"),
            "temperature": say("Temperature"),
            "degrees": say("°C or °F"),
        },
        "widths": WIDTHS,
        "sheets": [_sheet(one, paper) for one in planned],
    }


def _sheet(one: Planned, paper: Paper) -> dict[str, Any]:
    plan = one.plan
    rows = [{"order": str(at), "name": colony.name} for at, colony in enumerate(plan["chosen"], start=1)]
    rows += [{"order": say("spare"), "name": colony.name} for colony in plan["spares"]]
    empty = max(0, ROWS_ON_PAGE[paper] - len(rows))
    return {
        "title": one.yard.name,
        "lead": say(
            "{k} of {of} colonies, drawn by chance for {day}. Take them in this order. "
            "A spare is for a colony that cannot be opened, the first one first.",
            k=plan["k"],
            of=plan["of"],
            day=weekday_day(plan["on"]),
        ),
        "number": say("Sheet {number}", number=one.number),
        "qr": code_svg(one.address, error="m"),
        "qr_alt": say("Code that leads to the rows of this sheet"),
        "qr_words": say("type it in here"),
        "rows": rows,
        "empty": empty,
        "reminders": _reminders(one.yard),
    }


def _reminders(yard: Yard) -> list[str]:
    return [
        say("Find the queen first. Bees from a brood frame, about 300; the same way in every colony."),
        say(
            "Jar: half a US cup (118 ml), taken as {bees} bees by your club. Another measure: write which. "
            "Counted one by one: write the number in its row.",
            bees=yard.club.bees_per_half_cup,
        ),
        say(
            "Board: write the days it lay (three say more than one), whether a treatment was in the hive, "
            "and the squares if you counted only some."
        ),
        say("Brood: none, some or plenty. Write mites and bees as counted, never a rate."),
        say(
            "To type it in: scan the code, or open the yard, Which colonies to sample, and enter the number "
            "of this sheet. The rows stand there in the order of this sheet."
        ),
    ]
