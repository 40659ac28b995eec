"""What a mail says about each thing that is owed: heading, what, when, why, and the one button."""

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass

from django.conf import settings
from django.urls import reverse

from apiaries.templatetags.recount_words import weekday_day
from reports.due_days import Stage, local_day
from reports.links import entry_url, later_url
from reports.matters import MatterKind
from reports.owed import Owed
from treatments.count_calls import CountCall
from treatments.due import DueItem
from treatments.status import TreatmentStatus

UNFINISHED = (
    "This treatment is not noted as finished. If a round was left out or something is still in the hives, "
    "say so first: the day moves with it."
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
    late = owed.due.stage is Stage.LATE
    heading = {Stage.SOON: "Recount coming up", Stage.DUE: "Recount due", Stage.LATE: "Recount late"}
    when = (
        f"best on {weekday_day(recount.ideal_on)}, from {weekday_day(recount.earliest_on)} to {by}."
        + " The last of these days has passed; a count soon still says something, each week later says less."
        * late
    )
    unfinished = item.treatment.status(local_day(at, owed.person.time_zone)) is not TreatmentStatus.FINISHED
    return Line(
        owed=owed,
        heading=f"{heading[owed.due.stage]}, by {by}"
        if not late
        else f"{heading[owed.due.stage]} since {by}",
        facts=(
            ("What", f"count mites again in {treated_colonies(owed)} ({item.treatment.application.name})."),
            ("When", when),
            ("Why", recount.reason),
        ),
        note=UNFINISHED if unfinished else "",
        action="Count the yard",
        url=entry_url(recount, owed.person, at=at),
        later_url=_later_url(owed, at),
        signed=True,
    )


def _round(owed: Owed, at: dt.datetime) -> Line:
    item = _item(owed)
    number = item.round.number if item.round else 1
    late = owed.due.stage is Stage.LATE
    heading = {Stage.SOON: "Round coming up", Stage.DUE: "Round due", Stage.LATE: "Round late"}
    return _of_item(
        owed,
        at,
        heading=f"{heading[owed.due.stage]}{', it was for ' * late}{weekday_day(item.on) * late}",
        what=f"give round {number} ({item.treatment.application.name}, {colonies(owed)}).",
        when=f"planned for {weekday_day(item.on)}.",
        why="The rounds of a treatment belong together, and the day of the recount moves with them."
        if len(item.treatment.round_dates()) > 1
        else "The day of the recount moves with it.",
        note="Read the label and the cautions first; the label and the weather decide. "
        "Given already? Then note on which day.",
    )


def _out(owed: Owed, at: dt.datetime) -> Line:
    item = _item(owed)
    number = item.round.number if item.round else 1
    late = owed.due.stage is Stage.LATE
    heading = {Stage.SOON: "To take out soon", Stage.DUE: "To take out", Stage.LATE: "To take out: late"}
    return _of_item(
        owed,
        at,
        heading=f"{heading[owed.due.stage]}{' since ' * late}{weekday_day(item.on) * late}",
        what=f"take out what was given in round {number} ({item.treatment.application.name}, {colonies(owed)}).",
        when=f"on {weekday_day(item.on)}; the label decides.",
        why="Left in for longer than the label says, it can leave residues and help mites to become resistant.",
        note="Taken out already? Then note on which day.",
    )


def _clear(owed: Owed, at: dt.datetime) -> Line:
    item = _item(owed)
    days = item.treatment.withdrawal_days
    return _of_item(
        owed,
        at,
        heading="Clear date reached",
        what=f"the withdrawal period of {days} day{'s' * (days != 1)} ({item.treatment.application.name}), "
        "as entered, ended.",
        when=f"on {weekday_day(item.on)}.",
        why="From then on nothing stands in the way of honey as far as these days go. "
        "The label and local rules decide.",
        note="",
    )


def _call(owed: Owed, at: dt.datetime) -> Line:
    call = _called(owed)
    late = owed.due.stage is Stage.LATE
    is_week = owed.matter.kind is MatterKind.WEEK
    named = {
        (True, False): "Count week",
        (True, True): "Count week ends soon",
        (False, False): "Count asked for",
        (False, True): "Count not made yet",
    }
    return Line(
        owed=owed,
        heading=f"{named[is_week, late]}, by {weekday_day(call.last_on)}"
        if is_week or not late
        else f"{named[is_week, late]}, it was for {weekday_day(call.last_on)}",
        facts=(
            ("What", f"count mites in this yard ({colonies(owed)})."),
            ("When", f"from {weekday_day(call.first_on)} to {weekday_day(call.last_on)}."),
            ("Why", call.reason),
        ),
        note="",
        action="Count the yard",
        url=settings.SITE_URL + reverse("counts:yard-count", args=[call.yard.pk]),
        later_url=_later_url(owed, at),
    )


def _of_item(owed: Owed, at: dt.datetime, *, heading: str, what: str, when: str, why: str, note: str) -> Line:
    item = _item(owed)
    return Line(
        owed=owed,
        heading=heading,
        facts=(("What", what), ("When", when), ("Why", why)),
        note=note,
        action=item.action,
        url=settings.SITE_URL + item.url,
        later_url="" if owed.matter.kind is MatterKind.CLEAR else _later_url(owed, at),
    )


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
    number = owed.matter.colonies
    return "1 colony" if number == 1 else f"{number} colonies"


def treated_colonies(owed: Owed) -> str:
    """The same for those that got a dose."""
    number = owed.matter.colonies
    return "1 treated colony" if number == 1 else f"{number} treated colonies"


def _item(owed: Owed) -> DueItem:
    if not isinstance(owed.matter.about, DueItem):
        raise TypeError(f"{owed.subject} is not about a treatment.")
    return owed.matter.about


def _called(owed: Owed) -> CountCall:
    if not isinstance(owed.matter.about, CountCall):
        raise TypeError(f"{owed.subject} is not a call for a count.")
    return owed.matter.about
