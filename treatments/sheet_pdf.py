"""The sheet of a round on paper, with room to tick and a code that leads back to its page."""

from pathlib import Path
from typing import Any

from apiaries.codes import code_svg
from apiaries.language import mark_as, say, say_as, say_many
from apiaries.paper import Paper, set_pdf
from apiaries.templatetags.recount_words import clock, day, plain, weekday_day
from treatments.day_sheet import SheetRow
from treatments.models import DaySheet

TEMPLATE = Path(__file__).resolve().parent / "sheets" / "day_sheet.typ"
HIVE, DONE = mark_as("column of a day sheet", "Hive"), mark_as("column of a day sheet", "Done")
REMARK = mark_as("column of a day sheet", "Remark")
BOXES, DOSE = mark_as("column of a day sheet", "Boxes"), mark_as("column of a day sheet", "Dose")
SHUT, OUT = mark_as("column of a day sheet", "Shut at"), mark_as("column of a day sheet", "Heater out")
OPEN = mark_as("column of a day sheet", "Open from")
TIMED = ((BOXES, 2), (DOSE, 3), (SHUT, 3), (OUT, 3), (OPEN, 3))
UNTIMED = ((BOXES, 2), (DOSE, 3), (SHUT, 3), (OPEN, 3))
PLAIN = ((BOXES, 2), (DOSE, 3))
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
        "foot": say(
            "Sheet of {title}, round {number}. The label in your hand decides.",
            title=title,
            number=round_.number,
        ),
        "lead": _lead(page),
        "qr": code_svg(address, error="m"),
        "qr_alt": say("Code that leads to this sheet’s page"),
        "qr_words": say("leads to this page"),
        "standing": [say("Stands in its way, as noted: {words}", words=words) for words in page["standing"]],
        "seal_first": say("Seal first"),
        "sealing": [words[0].upper() + words[1:] for words in page["sealing"]],
        "walked": say("Hives, in the order walked"),
        "columns": [_column(name) for name in (HIVE, *(name for name, _ in columns), DONE, REMARK)],
        "widths": shares,
        "rows": [_row(row, [name for name, _ in columns], sheet.sheet.heaters) for row in sheet.rows],
        "times": _times(page),
        "lists": [
            {"title": say("What to bring"), "lines": _to_bring(page)},
            {"title": say("Afterwards"), "lines": _afterwards(page)},
        ],
        "first_aid": say("Cautions and first aid"),
        "cautions": list(page["cautions"]),
        "notes": [_made_by(page["found"])],
    }


def _column(name: str) -> str:
    return say_as("column of a day sheet", name)


def _made_by(found: DaySheet) -> str:
    return say("Made by {name}, {day}.", name=found.recorded_by.name, day=day(found.recorded_at))


def _lead(page: dict[str, Any]) -> list[str]:
    sheet, way = page["sheet"], page["treatment"].application
    number, rounds = page["round"].number, len(page["rounds"])
    parts = [
        say("{way}, round {number} of {rounds}.", way=way.name, number=number, rounds=rounds),
        say_many("{n} hive.", "{n} hives.", len(sheet.rows)),
        say(
            "Start {start}, the last hive open at {finish}: {hours}.",
            start=clock(sheet.start),
            finish=clock(sheet.finish),
            hours=sheet.hours,
        )
        if sheet.finish
        else say("Start {start}.", start=clock(sheet.start)),
    ]
    return [" ".join(parts), *filter(None, [page["no_plan"]])]


def _row(row: SheetRow, names: list[str], heaters: int) -> dict[str, Any]:
    hive = row.hive
    dose = f"{plain(hive.amount)} {hive.unit_words}"
    told = {
        BOXES: str(hive.colony.brood_boxes),
        DOSE: say("{dose}, {loads} loads", dose=dose, loads=hive.loads) if hive.loads > 1 else dose,
        SHUT: clock(row.shut_at),
        OUT: clock(row.drawn_at),
        OPEN: clock(row.open_at),
    }
    more = [say("heater {number}", number=row.heater)] if row.heater and heaters > 1 else []
    more += [say("battery short here")] if row.short_battery else []
    name = say("Colony {name}", name=hive.colony.name) + (f" ({', '.join(more)})" if more else "")
    return {"hive": name, "cells": [told[one] for one in names]}


def _times(page: dict[str, Any]) -> list[str]:
    sheet = page["sheet"]
    if not sheet.vapour:
        return []
    shut = plain(sheet.sheet.sealed_minutes)
    if sheet.plan is None:
        return [
            say("Write the times down yourself: {shut} minutes shut after the last vapour.", shut=shut),
        ]
    return [
        say(
            "Times follow your own timed trial, {wait} minutes before drawing and {shut} minutes shut after the last "
            "vapour. If the day runs late, all of it moves: count the minutes from the last vapour, not from this "
            "sheet.",
            wait=plain(sheet.sheet.wait_minutes),
            shut=shut,
        )
    ]


def _to_bring(page: dict[str, Any]) -> list[str]:
    sheet = page["sheet"]
    sums = {
        "amount": f"{plain(sheet.total.to_bring)} {sheet.unit}",
        "doses": plain(sheet.total.doses),
    }
    if sheet.vapour:
        total = say(
            "{amount} in all: {doses} and a tenth to spare, oxalic acid dihydrate, weighed",
            **sums,
        )
    else:
        total = say("{amount} in all: {doses} and a tenth to spare", **sums)
    return [total, *(thing[0].upper() + thing[1:] for thing in page["kit"]), *page["power"]]


def _afterwards(page: dict[str, Any]) -> list[str]:
    recount, clear, out = page["recount"], page["clear_on"], page["out_on"]
    following = page["next_round"]
    lines = [say("Comes out {day}; the label decides", day=weekday_day(out))] if out else []
    lines += [say("Next round {day}", day=weekday_day(following.planned_on))] if following else []
    lines.append(
        say(
            "Recount {day}, from {first} to {last}",
            day=weekday_day(recount.ideal_on),
            first=day(recount.earliest_on),
            last=day(recount.latest_on),
        )
    )
    lines.append(
        say("Clear date {day}", day=weekday_day(clear))
        if clear
        else say("Clear date: fill in the label’s withdrawal period")
    )
    return [*lines, *page["savings"]]
