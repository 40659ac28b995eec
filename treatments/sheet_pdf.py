"""The sheet of a round on paper, with room to tick and a code that leads back to its page."""

from pathlib import Path
from typing import Any

from apiaries.codes import code_svg
from apiaries.paper import Paper, set_pdf
from apiaries.templatetags.recount_words import clock, day, plain, weekday_day
from treatments.day_sheet import SheetRow

TEMPLATE = Path(__file__).resolve().parent / "sheets" / "day_sheet.typ"
TIMED = (("Boxes", 2), ("Dose", 3), ("Shut at", 3), ("Heater out", 3), ("Open from", 3))
UNTIMED = (("Boxes", 2), ("Dose", 3), ("Shut at", 3), ("Open from", 3))
PLAIN = (("Boxes", 2), ("Dose", 3))
# Shares of the width of the name, the tick and the remark; our choice.
NAME_SHARE, DONE_SHARE, REMARK_SHARE = 5, 2, 6


def day_sheet_pdf(page: dict[str, Any], *, address: str, paper: Paper) -> bytes:
    """The sheet as a PDF, from the context of its page; `address` is where the code leads."""
    return set_pdf(TEMPLATE, sheet_data(page, address=address), paper=paper)


def sheet_data(page: dict[str, Any], *, address: str) -> dict[str, Any]:
    """What the template is given: plain texts, nothing to be read as its language."""
    sheet, round_, yard = page["sheet"], page["round"], page["yard"]
    columns = TIMED if sheet.plan else UNTIMED if sheet.vapour else PLAIN
    shares = [NAME_SHARE, *(share for _, share in columns), DONE_SHARE, REMARK_SHARE]
    title = f"{yard.name}, {weekday_day(round_.planned_on)}"
    return {
        "title": title,
        "foot": f"Sheet of {title}, round {round_.number}. The label in your hand decides.",
        "lead": _lead(page),
        "qr": code_svg(address, error="m"),
        "qr_alt": "Code that leads to this sheet’s page",
        "qr_words": "leads to this page",
        "standing": [f"Stands in its way, as noted: {words}" for words in page["standing"]],
        "sealing": [words[0].upper() + words[1:] for words in page["sealing"]],
        "columns": ["Hive", *(name for name, _ in columns), "Done", "Remark"],
        "widths": shares,
        "rows": [_row(row, [name for name, _ in columns], sheet.sheet.heaters) for row in sheet.rows],
        "times": _times(page),
        "lists": [
            {"title": "What to bring", "lines": _to_bring(page)},
            {"title": "Afterwards", "lines": _afterwards(page)},
        ],
        "cautions": list(page["cautions"]),
        "notes": [f"Made by {page['found'].recorded_by.name}, {day(page['found'].recorded_at)}."],
    }


def _lead(page: dict[str, Any]) -> list[str]:
    sheet, way = page["sheet"], page["treatment"].application
    number = f"{len(sheet.rows)} {'hive' if len(sheet.rows) == 1 else 'hives'}"
    begun = f"Start {clock(sheet.start)}"
    ends = f", the last hive open at {clock(sheet.finish)}: {sheet.hours}" if sheet.finish else ""
    lines = [f"{way.name}, round {page['round'].number} of {len(page['rounds'])}. {number}. {begun}{ends}."]
    return [*lines, *([page["no_plan"]] if page["no_plan"] else [])]


def _row(row: SheetRow, names: list[str], heaters: int) -> dict[str, Any]:
    hive = row.hive
    told = {
        "Boxes": str(hive.colony.brood_boxes),
        "Dose": f"{plain(hive.amount)} {hive.unit}" + (f", {hive.loads} loads" if hive.loads > 1 else ""),
        "Shut at": clock(row.shut_at),
        "Heater out": clock(row.drawn_at),
        "Open from": clock(row.open_at),
    }
    more = [f"heater {row.heater}"] if row.heater and heaters > 1 else []
    more += ["battery short here"] if row.short_battery else []
    name = f"Colony {hive.colony.name}" + (f" ({', '.join(more)})" if more else "")
    return {"hive": name, "cells": [told[one] for one in names]}


def _times(page: dict[str, Any]) -> list[str]:
    sheet = page["sheet"]
    if not sheet.vapour:
        return []
    shut = f"{plain(sheet.sheet.sealed_minutes)} minutes shut after the last vapour"
    if sheet.plan is None:
        return [f"Write the times down yourself: {shut}."]
    wait = f"{plain(sheet.sheet.wait_minutes)} minutes before drawing"
    return [
        f"Times follow your own timed trial, {wait} and {shut}. If the day runs late, all of it moves: count the "
        "minutes from the last vapour, not from this sheet."
    ]


def _to_bring(page: dict[str, Any]) -> list[str]:
    sheet = page["sheet"]
    weighed = ", oxalic acid dihydrate, weighed" if sheet.vapour else ""
    spare = f"{plain(sheet.total.doses)} and a tenth to spare"
    total = f"{plain(sheet.total.to_bring)} {sheet.unit} in all: {spare}{weighed}"
    return [total, *(thing[0].upper() + thing[1:] for thing in page["kit"]), *page["power"]]


def _afterwards(page: dict[str, Any]) -> list[str]:
    recount, clear, out = page["recount"], page["clear_on"], page["out_on"]
    following = page["next_round"]
    lines = [f"Comes out {weekday_day(out)}; the label decides"] if out else []
    lines += [f"Next round {weekday_day(following.planned_on)}"] if following else []
    window = f"from {day(recount.earliest_on)} to {day(recount.latest_on)}"
    lines.append(f"Recount {weekday_day(recount.ideal_on)}, {window}")
    lines.append(
        f"Clear date {weekday_day(clear)}" if clear else "Clear date: fill in the label’s withdrawal period"
    )
    return [*lines, *page["savings"]]
