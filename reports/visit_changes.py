"""What the corrections of a report changed: the versions before it, and line by line what was struck through."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from apiaries.language import say
from apiaries.models import Visit
from apiaries.templatetags.recount_words import day, plain
from apiaries.visit_facts import NewVisit, as_new
from reports.visit_sheet import Sheet, sheet_of

MOST = 50
"""So many versions are followed back (our choice)."""


@dataclass(frozen=True, slots=True)
class StruckLine:
    """What a line said and what it says since; either may be empty."""

    label: str
    old: str
    new: str


@dataclass(frozen=True, slots=True)
class Struck:
    """A version that was replaced: by whom, when, why, and the lines that differ from the version after it."""

    report: str
    by: str
    at: dt.datetime
    why: str
    lines: Sequence[StruckLine]


def struck_versions(visit: Visit) -> list[Struck]:
    """The versions before this one, the newest first."""
    found: list[Struck] = []
    later, now = visit, _lines(sheet_of(as_new(visit)))
    while later.corrects_id is not None and len(found) < MOST:
        old = Visit.objects.select_related("yard__club", "yard__keeper", "voided_by").get(
            pk=later.corrects_id
        )
        was = _lines(sheet_of(as_new(old)))
        if old.voided_at is not None and old.voided_by is not None:
            found.append(
                Struck(old.report, old.voided_by.name, old.voided_at, old.voided_why, _differing(was, now))
            )
        later, now = old, was
    return found


def _differing(was: Mapping[str, str], now: Mapping[str, str]) -> list[StruckLine]:
    labels = [*was, *(label for label in now if label not in was)]
    lines = [StruckLine(label, was.get(label, ""), now.get(label, "")) for label in labels]
    return [line for line in lines if line.old != line.new]


def _lines(sheet: Sheet) -> dict[str, str]:
    """All that a version says, by what it is about."""
    new = sheet.new
    lines = {
        say("Day of the visit"): day(new.visited_on),
        say("Who was there"): sheet.present,
        say("Notice"): sheet.told,
        say("Owner of the land"): new.land_owner,
        say("Weather"): new.weather,
        say("Colonies present"): plain(new.colonies_present),
        say("Colonies opened"): plain(new.colonies_opened),
        say("Colonies to open"): plain(new.colonies_to_open),
        say("Remarks, damage"): new.remarks,
        say("Recommendations"): new.recommendations,
        say("Follow-up visit"): day(new.follow_up_on),
    }
    lines |= {
        say("Colony {name}", name=one.name): "; ".join(
            [*(f"{aspect}: {words}" for aspect, words, _ in one.seen), *filter(None, [one.remark])]
        )
        or say("opened, nothing noted")
        for one in sheet.colonies
    }
    lines |= _suspicions(sheet) | _asked(new)
    return {label: words for label, words in lines.items() if words}


def _suspicions(sheet: Sheet) -> dict[str, str]:
    lines: dict[str, str] = {}
    for one in sheet.suspected:
        label = say("Suspected in colony {colony}", colony=one.colony) if one.colony else say("Suspected")
        words = f"{one.disease.name}: {one.seen}" if one.seen else one.disease.name
        lines[label] = "; ".join(filter(None, [lines.get(label), words]))
    return lines


def _asked(new: NewVisit) -> dict[str, str]:
    orders = [", ".join(filter(None, [one.what, day(one.due_on)])) for one in new.orders]
    samples = [
        ", ".join(filter(None, [one.number, one.what, one.sent_to, one.results_to]))
        for one in new.lab_samples
    ]
    return {say("Orders"): "; ".join(orders), say("Samples for a laboratory"): "; ".join(samples)}
