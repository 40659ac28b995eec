"""What a mail says about each thing that is owed: heading, what, when, why, and the one button."""

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass

from django.conf import settings
from django.urls import reverse

from apiaries.language import mark, say, say_many
from apiaries.templatetags.recount_words import weekday_day
from reports.due_days import Stage, local_day
from reports.links import entry_url, later_url
from reports.matters import MatterKind
from reports.owed import Owed
from treatments.count_calls import CountCall
from treatments.due import DueItem
from treatments.status import TreatmentStatus

UNFINISHED = mark(
    "This treatment is not noted as finished. If a round was left out or something is still in the hives, "
    "say so first: the day moves with it."
)

PASSED = mark(
    "The last of these days has passed; a count soon still says something, each week later says less."
)


@dataclass(frozen=True, slots=True)
class Line:
    """One thing in the mail. `facts` are label and sentence; `signed` says that the button needs no signing in."""

    owed: Owed
    heading: str
    facts: tuple[tuple[str, str], ...]
    note: str
    action: str
    url: str
    later_url: str
    signed: bool = False


def line_of(owed: Owed, *, at: dt.datetime) -> Line:
    """The line of one notice at this moment."""
    return _LINES[owed.matter.kind](owed, at)


def _recount(owed: Owed, at: dt.datetime) -> Line:
    item = _item(owed)
    recount = item.treatment.recount
    by = weekday_day(recount.latest_on)
    heading = {
        Stage.SOON: mark("Recount coming up, by {day}"),
        Stage.DUE: mark("Recount due, by {day}"),
        Stage.LATE: mark("Recount late since {day}"),
    }
    when = say(
        "best on {ideal}, from {first} to {last}.",
        ideal=weekday_day(recount.ideal_on),
        first=weekday_day(recount.earliest_on),
        last=by,
    )
    if owed.due.stage is Stage.LATE:
        when = f"{when} {say(PASSED)}"
    what = say(
        "count mites again in {colonies} ({way}).",
        colonies=treated_colonies(owed),
        way=say(item.treatment.application.name),
    )
    unfinished = item.treatment.status(local_day(at, owed.person.time_zone)) is not TreatmentStatus.FINISHED
    return Line(
        owed=owed,
        heading=say(heading[owed.due.stage], day=by),
        facts=_facts(what, when, say(recount.reason)),
        note=say(UNFINISHED) if unfinished else "",
        action=say("Count the yard"),
        url=entry_url(recount, owed.person, at=at),
        later_url=_later_url(owed, at),
        signed=True,
    )


def _round(owed: Owed, at: dt.datetime) -> Line:
    item = _item(owed)
    heading = {
        Stage.SOON: mark("Round coming up"),
        Stage.DUE: mark("Round due"),
        Stage.LATE: mark("Round late, it was for {day}"),
    }
    return _of_item(
        owed,
        at,
        heading=say(heading[owed.due.stage], day=weekday_day(item.on)),
        what=say("give round {number} ({way}, {colonies}).", **_of_round(owed)),
        when=say("planned for {day}.", day=weekday_day(item.on)),
        why=say("The rounds of a treatment belong together, and the day of the recount moves with them.")
        if len(item.treatment.round_dates()) > 1
        else say("The day of the recount moves with it."),
        note=say(
            "Read the label and the cautions first; the label and the weather decide. Given already? Then note on "
            "which day."
        ),
    )


def _out(owed: Owed, at: dt.datetime) -> Line:
    item = _item(owed)
    heading = {
        Stage.SOON: mark("To take out soon"),
        Stage.DUE: mark("To take out"),
        Stage.LATE: mark("To take out: late since {day}"),
    }
    return _of_item(
        owed,
        at,
        heading=say(heading[owed.due.stage], day=weekday_day(item.on)),
        what=say("take out what was given in round {number} ({way}, {colonies}).", **_of_round(owed)),
        when=say("on {day}; the label decides.", day=weekday_day(item.on)),
        why=say(
            "Left in for longer than the label says, it can leave residues and help mites to become resistant."
        ),
        note=say("Taken out already? Then note on which day."),
    )


def _clear(owed: Owed, at: dt.datetime) -> Line:
    item = _item(owed)
    days = item.treatment.withdrawal_days or 0
    return _of_item(
        owed,
        at,
        heading=say("Clear date reached"),
        what=say_many(
            "the withdrawal period of {n} day ({way}), as entered, ended.",
            "the withdrawal period of {n} days ({way}), as entered, ended.",
            days,
            way=say(item.treatment.application.name),
        ),
        when=say("on {day}.", day=weekday_day(item.on)),
        why=say(
            "From then on nothing stands in the way of honey as far as these days go. The label and local rules decide."
        ),
        note="",
    )


def _call(owed: Owed, at: dt.datetime) -> Line:
    call = _called(owed)
    late = owed.due.stage is Stage.LATE
    is_week = owed.matter.kind is MatterKind.WEEK
    heading = {
        (True, False): mark("Count week, by {day}"),
        (True, True): mark("Count week ends soon, by {day}"),
        (False, False): mark("Count asked for, by {day}"),
        (False, True): mark("Count not made yet, it was for {day}"),
    }
    return Line(
        owed=owed,
        heading=say(heading[is_week, late], day=weekday_day(call.last_on)),
        facts=_facts(
            say("count mites in this yard ({colonies}).", colonies=colonies(owed)),
            say("from {first} to {last}.", first=weekday_day(call.first_on), last=weekday_day(call.last_on)),
            call.reason,
        ),
        note="",
        action=say("Count the yard"),
        url=settings.SITE_URL + reverse("counts:yard-count", args=[call.yard.pk]),
        later_url=_later_url(owed, at),
    )


def _of_item(owed: Owed, at: dt.datetime, *, heading: str, what: str, when: str, why: str, note: str) -> Line:
    item = _item(owed)
    return Line(
        owed=owed,
        heading=heading,
        facts=_facts(what, when, why),
        note=note,
        action=item.action,
        url=settings.SITE_URL + item.url,
        later_url="" if owed.matter.kind is MatterKind.CLEAR else _later_url(owed, at),
    )


def _facts(what: str, when: str, why: str) -> tuple[tuple[str, str], ...]:
    return (say("What"), what), (say("When"), when), (say("Why"), why)


def _of_round(owed: Owed) -> dict[str, object]:
    """Which round, given how, of how many colonies."""
    item = _item(owed)
    return {
        "number": item.round.number if item.round else 1,
        "way": say(item.treatment.application.name),
        "colonies": colonies(owed),
    }


_LINES: dict[MatterKind, Callable[[Owed, dt.datetime], Line]] = {
    MatterKind.RECOUNT: _recount,
    MatterKind.ROUND: _round,
    MatterKind.OUT: _out,
    MatterKind.CLEAR: _clear,
    MatterKind.COUNT: _call,
    MatterKind.WEEK: _call,
}


def _later_url(owed: Owed, at: dt.datetime) -> str:
    """Where it can be put off; empty where it would come back too late."""
    can_wait = owed.matter.comes_back_on(local_day(at, owed.person.time_zone)) is not None
    return later_url(owed.person, owed.subject, at=at) if can_wait else ""


def colonies(owed: Owed) -> str:
    """Of how many colonies it is."""
    return say_many("{n} colony", "{n} colonies", owed.matter.colonies)


def treated_colonies(owed: Owed) -> str:
    """The same for those that got a dose."""
    return say_many("{n} treated colony", "{n} treated colonies", owed.matter.colonies)


def _item(owed: Owed) -> DueItem:
    if not isinstance(owed.matter.about, DueItem):
        raise TypeError(f"{owed.subject} is not about a treatment.")
    return owed.matter.about


def _called(owed: Owed) -> CountCall:
    if not isinstance(owed.matter.about, CountCall):
        raise TypeError(f"{owed.subject} is not a call for a count.")
    return owed.matter.about
