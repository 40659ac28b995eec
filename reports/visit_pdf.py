"""The report of a visit on paper: what its page says, with room to sign, and what was struck through beside it."""

import datetime as dt
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from django.utils.text import capfirst

from apiaries.language import mark, mark_as, say, say_as, say_many
from apiaries.models import LabSample, Person, Visit, VisitOrder
from apiaries.paper import Paper, set_pdf
from apiaries.templatetags.recount_words import (
    day,
    day_and_time,
    one_decimal,
    plain,
    rate_range,
    weekday_day,
)
from apiaries.zones import zone_of
from counts.presenters import CountRow
from reports.visit_changes import Struck, struck_versions
from reports.visit_sheet import SeenColony, Sheet, Suspected, VisitPage, visit_page

TEMPLATE = Path(__file__).resolve().parent / "sheets" / "visit_report.typ"
SAYS = {
    "below": mark("Below action level"),
    "either_side": mark("Could be either side"),
    "above": mark("Above action level"),
    "not_enough": mark("Not enough to say"),
    "trend": mark("Board: trend only"),
}
"""As the pages write it (parts/standing.html)."""
FINDING_WIDTHS, COUNT_WIDTHS, ORDER_WIDTHS, SAMPLE_WIDTHS = (4, 8, 5), (4, 8, 5), (8, 3, 5), (3, 4, 4, 3, 4)
"""Shares of the width; our choice."""


def visit_pdf(visit: Visit, person: Person, *, paper: Paper, as_of: dt.datetime) -> bytes:
    """The sheet as a PDF, for this reader. Errors: ValueError for a visit that was not made."""
    return set_pdf(TEMPLATE, report_data(visit, person, as_of=as_of), paper=paper)


def report_data(visit: Visit, person: Person, *, as_of: dt.datetime) -> dict[str, Any]:
    """What the template is given: plain texts, nothing to be read as its language."""
    shown = visit_page(visit, person)
    sheet, yard, zone = shown.sheet, visit.yard, zone_of(visit.yard.time_zone)
    struck = [_struck(one, zone) for one in struck_versions(visit)]
    title = say("Report {number}", number=visit.report)
    at = day_and_time(as_of.astimezone(zone))
    return {
        "title": f"{title}, {yard.name}",
        "heading": title,
        "club": visit.club.name,
        "lead": say(
            "{yard}, {keeper}, {region}. Inspector: {inspector}.",
            yard=yard.name,
            keeper=yard.keeper.name,
            region=yard.region.name,
            inspector=visit.inspector.name,
        ),
        "standing": _standing(shown, zone),
        "suspected": [_suspected(one) for one in sheet.suspected],
        "until": _until(sheet),
        "facts": _facts(sheet),
        "tables": [
            _table(
                say("Findings"),
                say("No finding of a single colony was noted."),
                [say("Colony"), say("What was seen"), say("Remark")],
                FINDING_WIDTHS,
                map(_finding, sheet.colonies),
            ),
            _table(
                say("Mite counts"),
                say("No mites were counted at this visit."),
                [say("Colony"), say("Count"), say_as("a count", mark_as("a count", "What it says"))],
                COUNT_WIDTHS,
                (_count(row, zone) for row in shown.counts),
            ),
            _table(
                say("Orders"),
                say("None."),
                [say("What the keeper has to do"), say("By"), say("Done")],
                ORDER_WIDTHS,
                map(_order, shown.orders),
            ),
            _table(
                say("Samples for a laboratory"),
                say("None."),
                [say("Number"), say("What"), say("Laboratory"), say("Who is told"), say("Answer")],
                SAMPLE_WIDTHS,
                map(_sample, shown.lab_samples),
            ),
        ],
        "struck_title": say("Struck through") if struck else "",
        "struck": struck,
        "recorded": say(
            "Recorded by {name}, {when}.",
            name=visit.recorded_by.name if visit.recorded_by else "",
            when=day_and_time(visit.recorded_at.astimezone(zone)) if visit.recorded_at else "",
        ),
        "signed_title": say("Signatures"),
        "signed": [
            say("Inspector: {name}", name=visit.inspector.name),
            say("Keeper: {name}", name=yard.keeper.name)
            if not sheet.new.present_who
            else say("Who was there: {name}", name=sheet.new.present_who),
        ],
        "signed_hint": say("Day, signature"),
        "note": say(
            "A signature says that the report was read, not that its reader agrees. What is suspected here is no "
            "diagnosis: the authority and its laboratory decide."
        ),
        "foot": say("{title}, {yard}. As of {at}.", title=title, yard=yard.name, at=at)
        + (" " + say("An invented club.") if visit.club.is_invented else ""),
    }


def _standing(shown: VisitPage, zone: ZoneInfo) -> list[str]:
    """That it no longer counts, who said so, when and why; nothing for one that stands."""
    visit = shown.visit
    if visit.voided_at is None or visit.voided_by is None:
        return []
    words = say(
        "{name}, {when}: {why}",
        name=visit.voided_by.name,
        when=day_and_time(visit.voided_at.astimezone(zone)),
        why=visit.voided_why,
    )
    newer = shown.newer
    place = [say("In its place: report {number}", number=newer.report)] if newer else []
    return [say("This report no longer counts."), words, *place]


def _suspected(one: Suspected) -> dict[str, Any]:
    disease = one.disease
    where = (
        say("Suspected in colony {colony}: {disease}", colony=one.colony, disease=disease.name)
        if one.colony
        else say("Suspected in the yard: {disease}", disease=disease.name)
    )
    tell = (
        say("Tell {authority} at once.", authority=disease.tell)
        if one.urgent
        else say("Ask {authority} whether it must be told.", authority=disease.tell)
    )
    lines = [say("Seen: {seen}", seen=one.seen)] if one.seen else []
    small = [say("Whom to tell is from memory: look it up.")] if disease.tell_mark else []
    small += [say("List: {source}", source=disease.source)] if disease.source else []
    return {"title": f"{where} ({disease.duty_words})", "lines": lines, "tell": tell, "small": small}


def _until(sheet: Sheet) -> dict[str, Any]:
    """What to do until the authority has answered; empty where nothing is suspected."""
    if not sheet.suspected:
        return {"title": "", "lines": []}
    title = (
        say("Until the authority has answered")
        if sheet.has_list
        else say("No list of your country is kept here")
    )
    return {"title": title, "lines": list(sheet.suspicion_cautions)}


def _facts(sheet: Sheet) -> list[list[str]]:
    new = sheet.new
    colonies = [
        say(
            "{present} present, {opened} opened.",
            present=plain(new.colonies_present),
            opened=plain(new.colonies_opened),
        ),
        say("To open by the rule: {colonies} ({rule}).", colonies=sheet.to_open, rule=sheet.rule),
    ]
    if sheet.short_of_rule:
        colonies.append(
            say_many(
                "{n} fewer than the rule asks for.", "{n} fewer than the rule asks for.", sheet.short_of_rule
            )
        )
    if sheet.drawn:
        colonies.append(f"{say('Drawn by chance:')} {', '.join(sheet.drawn)}.")
    follow_up = say("due on {day}", day=day(new.follow_up_on)) if new.follow_up_on else say("none due")
    lines = [
        (say("Day of the visit"), weekday_day(new.visited_on)),
        (say("Who was there"), sheet.present),
        (say("Notice"), sheet.told),
        (say("Owner of the land"), new.land_owner),
        (say("Weather"), new.weather),
        (say("Colonies"), " ".join(colonies)),
        (say("Source of the rule"), sheet.rule_source),
        (say("Remarks, damage"), new.remarks),
        (say("Recommendations"), new.recommendations),
        (say("Follow-up visit"), follow_up),
    ]
    return [[label, words] for label, words in lines if words]


Cell = list[dict[str, Any]]


def _part(words: str, *, bold: bool = False, struck: bool = False) -> dict[str, Any]:
    return {"words": words, "bold": bold, "struck": struck}


def _table(
    title: str, none: str, columns: Sequence[str], widths: Sequence[int], rows: Iterable[Sequence[Cell]]
) -> dict[str, Any]:
    told = [list(row) for row in rows]
    if not told:
        return {"title": title, "none": none, "columns": [], "widths": [], "rows": []}
    return {"title": title, "none": "", "columns": list(columns), "widths": list(widths), "rows": told}


def _finding(one: SeenColony) -> list[Cell]:
    seen = [_part(f"{aspect}: {words}", bold=odd) for aspect, words, odd in one.seen]
    return [
        [_part(one.name)],
        seen or [_part(say("opened, nothing noted"))],
        [_part(one.remark or "–")],
    ]


def _count(row: CountRow, zone: ZoneInfo) -> list[Cell]:
    sample = row.sample
    struck = sample.voided_at is not None
    figure = [
        _part(capfirst(f"{sample.get_method_display()}: {row.raw}"), struck=struck),
        *([_part(rate_words(row), struck=struck)] if row.rate is not None else []),
    ]
    if sample.voided_at is not None and sample.voided_by is not None:
        why = say(
            "voided {on} by {name}: {why}",
            on=day(sample.voided_at.astimezone(zone)),
            name=sample.voided_by.name,
            why=sample.voided_why,
        )
        return [[_part(sample.colony.name, struck=True)], figure, [_part(why)]]
    said = say(SAYS[row.said.key]) if row.said.key in SAYS else say("Not enough to say")
    return [
        [_part(sample.colony.name)],
        figure,
        [_part(f"{said}, {row.said.note}" if row.said.note else said, bold=row.said.key == "above")],
    ]


def rate_words(row: CountRow) -> str:
    """The rate with its range, as the pages write it; with no mite found, only up to where it may reach."""
    if row.none_found:
        return say("None found (up to {high} {unit})", high=one_decimal(row.high), unit=row.unit)
    return say(
        "{rate} {unit} (range {range})",
        rate=one_decimal(row.rate),
        unit=row.unit,
        range=rate_range(row.low, row.high),
    )


def _order(one: VisitOrder) -> list[Cell]:
    done = say("Not done yet")
    if one.done_on is not None and one.done_by is not None:
        done = say("Done on {day}, noted by {name}", day=day(one.done_on), name=one.done_by.name)
        done += f": {one.done_note}" if one.done_note else ""
    return [[_part(one.what)], [_part(day(one.due_on) or "–")], [_part(done)]]


def _sample(one: LabSample) -> list[Cell]:
    answer = say("No answer yet")
    if one.result_on is not None:
        answer = say("Answer of {day}: {result}", day=day(one.result_on), result=one.result)
    texts = [one.number, one.what, one.sent_to or "–", one.results_to or "–", answer]
    return [[_part(text)] for text in texts]


def _struck(one: Struck, zone: ZoneInfo) -> dict[str, Any]:
    unchanged = say("Nothing that stands on this page was changed.")
    return {
        "title": say(
            "Report {number}: {name}, {when}: {why}",
            number=one.report,
            name=one.by,
            when=day_and_time(one.at.astimezone(zone)),
            why=one.why,
        ),
        "none": "" if one.lines else unchanged,
        "lines": [
            {"label": line.label, "old": line.old, "new": line.new or say("nothing")} for line in one.lines
        ],
    }
