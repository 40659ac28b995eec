"""A colony's past as one list: since when it stands where, and what happened to it, who noted that and when."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum, auto
from typing import Any

from django.db.models import Q

from apiaries.language import mark, say
from apiaries.lineage import became_of
from apiaries.models import ChangeKind, Colony, ColonyChange, Person, Yard
from apiaries.models.ends import end_words
from apiaries.second_lock import as_the_service
from apiaries.templatetags.recount_words import day
from apiaries.zones import zone_of


class What(Enum):
    """What happened to a colony, as it tells it."""

    SPLIT_OFF = auto()
    SPLIT_FROM = auto()
    UNITED_INTO = auto()
    TOOK_IN = auto()
    REQUEENED = auto()
    GONE = auto()


WORDS = {
    What.SPLIT_OFF: mark("Split off: colony {name}"),
    What.SPLIT_FROM: mark("Split from colony {name}"),
    What.UNITED_INTO: mark("United into colony {name}"),
    What.TOOK_IN: mark("Took in the bees of colony {name}"),
    What.REQUEENED: mark("Another queen"),
    What.GONE: mark("Gone"),
}
ELSEWHERE = {
    What.SPLIT_OFF: mark("Split off: a colony of another yard"),
    What.SPLIT_FROM: mark("Split from a colony of another yard"),
    What.UNITED_INTO: mark("United into a colony of another yard"),
    What.TOOK_IN: mark("Took in the bees of a colony of another yard"),
}
"""The same where the reader may not see the other colony."""
WITHIN = {
    What.SPLIT_OFF: mark("split off: colony {name}"),
    What.UNITED_INTO: mark("united into colony {name}"),
    What.REQUEENED: mark("another queen"),
    What.GONE: mark("gone"),
}
"""The same within a sentence, as the colony itself tells it that was split, united, requeened or ended."""


@dataclass(frozen=True, slots=True)
class PastLine:
    """One thing of the past. `colony`: the other one it speaks of, if the reader may see it.

    `first_noted`: nobody knows since when it was so, and `on` is the first day from which anything is noted.
    """

    on: dt.date
    words: str
    colony: Colony | None = None
    note: str = ""
    by: str = ""
    noted_at: dt.datetime | None = None
    change: ColonyChange | None = None
    first_noted: bool = False

    @property
    def undone(self) -> bool:
        return self.change is not None and self.change.voided_at is not None


def past_of(colony: Colony, person: Person) -> list[PastLine]:
    """Newest first. A constant number of queries."""
    zone = zone_of(person.time_zone)
    # Also to and from where the reader may not look: else it would never have stood there.
    with as_the_service():
        moves = list(colony.moves.select_related("from_yard", "to_yard", "recorded_by"))
    first = moves[0].from_yard if moves else colony.yard
    known = colony.started_known
    words = (
        say("Stands in {yard}", yard=first.name) if known else say("In {yard}, first noted", yard=first.name)
    )
    lines = [PastLine(colony.started_on, words, first_noted=not known)]
    lines += [
        PastLine(
            move.moved_on,
            say("Moved from {yard} to {other}", yard=move.from_yard.name, other=move.to_yard.name),
            by=move.recorded_by.name,
            noted_at=move.recorded_at.astimezone(zone),
        )
        for move in moves
    ]
    rows = ColonyChange.objects.filter(Q(colony=colony) | Q(other=colony))
    changes = list(rows.select_related("colony", "other", "recorded_by", "voided_by"))
    seen = _seen_by(person, changes)
    for change in changes:
        what, other = _what(change, colony)
        shown = other if other is not None and other.yard_id in seen else None
        words = WORDS[what] if other is None or shown else ELSEWHERE[what]
        lines.append(
            PastLine(
                change.happened_on,
                say(words, name=other.name if other else ""),
                shown,
                end_words(change.note),
                change.recorded_by.name,
                change.recorded_at.astimezone(zone),
                change,
            )
        )
    return sorted(lines, key=lambda line: line.on, reverse=True)


def went_to(colony: Colony, person: Person) -> dict[str, Any]:
    """For a colony that is gone: the colony its bees are in now, if any, and whether the reader may see that."""
    chain = became_of(colony)
    if not chain:
        return {}
    last = chain[-1]
    may_see = Yard.objects.visible_to(person).filter(pk=last.yard_id).exists()
    return {"bees_in": last if may_see else None, "bees_gone": last.ended_on is not None}


def _what(change: ColonyChange, colony: Colony) -> tuple[What, Colony | None]:
    """What happened, seen from this colony, and the other colony it speaks of."""
    own = change.colony_id == colony.pk
    if change.kind == ChangeKind.SPLIT:
        return (What.SPLIT_OFF, change.other) if own else (What.SPLIT_FROM, change.colony)
    if change.kind == ChangeKind.UNITED:
        return (What.UNITED_INTO, change.other) if own else (What.TOOK_IN, change.colony)
    return (What.REQUEENED if change.kind == ChangeKind.REQUEENED else What.GONE), None


def _seen_by(person: Person, changes: Iterable[ColonyChange]) -> set[int]:
    yards = {one.yard_id for change in changes for one in (change.colony, change.other) if one is not None}
    return (
        set(Yard.objects.visible_to(person).filter(pk__in=yards).values_list("pk", flat=True))
        if yards
        else set()
    )


def change_words(change: ColonyChange) -> str:
    """One change in a sentence, as its own colony tells it; for whoever may undo it."""
    what, other = _what(change, change.colony)
    told = {
        "colony": change.colony.name,
        "day": day(change.happened_on),
        "what": say(WITHIN[what], name=other.name if other else ""),
    }
    if change.note:
        return say("Colony {colony}, {day}: {what} ({note})", **told, note=end_words(change.note))
    return say("Colony {colony}, {day}: {what}", **told)
