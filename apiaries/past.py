"""A colony's past as one list: since when it stands where, and what happened to it, who noted that and when."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.db.models import Q

from apiaries.lineage import became_of
from apiaries.models import ChangeKind, Colony, ColonyChange, Person, Yard
from apiaries.templatetags.recount_words import day
from apiaries.zones import zone_of

ELSEWHERE = "a colony of another yard"


@dataclass(frozen=True, slots=True)
class PastLine:
    """One thing of the past. `colony`: the other one it speaks of, if the reader may see it."""

    on: dt.date
    words: str
    colony: Colony | None = None
    note: str = ""
    by: str = ""
    noted_at: dt.datetime | None = None
    change: ColonyChange | None = None

    @property
    def undone(self) -> bool:
        return self.change is not None and self.change.voided_at is not None


def past_of(colony: Colony, person: Person) -> list[PastLine]:
    """Newest first. A constant number of queries."""
    zone = zone_of(person.time_zone)
    moves = list(colony.moves.select_related("from_yard", "to_yard", "recorded_by"))
    first = moves[0].from_yard if moves else colony.yard
    lines = [PastLine(colony.started_on, f"Stands in {first.name}")]
    lines += [
        PastLine(
            move.moved_on,
            f"Moved from {move.from_yard.name} to {move.to_yard.name}",
            by=move.recorded_by.name,
            noted_at=move.recorded_at.astimezone(zone),
        )
        for move in moves
    ]
    rows = ColonyChange.objects.filter(Q(colony=colony) | Q(other=colony))
    changes = list(rows.select_related("colony", "other", "recorded_by", "voided_by"))
    seen = _seen_by(person, changes)
    for change in changes:
        words, other = _words(change, colony)
        shown = other if other is not None and other.yard_id in seen else None
        if other is not None:
            words = f"{words} {f'colony {other.name}' if shown else ELSEWHERE}"
        lines.append(
            PastLine(
                change.happened_on,
                words,
                shown,
                change.note,
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


def _words(change: ColonyChange, colony: Colony) -> tuple[str, Colony | None]:
    """What happened, seen from this colony, and the other colony that the words end with."""
    if change.kind == ChangeKind.SPLIT:
        return (
            ("Split off:", change.other) if change.colony_id == colony.pk else ("Split from", change.colony)
        )
    if change.kind == ChangeKind.UNITED:
        mine = change.colony_id == colony.pk
        return ("United into", change.other) if mine else ("Took in the bees of", change.colony)
    return ("Another queen" if change.kind == ChangeKind.REQUEENED else "Gone"), None


def _seen_by(person: Person, changes: Iterable[ColonyChange]) -> set[int]:
    yards = {one.yard_id for change in changes for one in (change.colony, change.other) if one is not None}
    return (
        set(Yard.objects.visible_to(person).filter(pk__in=yards).values_list("pk", flat=True))
        if yards
        else set()
    )


def change_words(change: ColonyChange) -> str:
    """One change in a sentence, as its own colony tells it; for whoever may undo it."""
    words, other = _words(change, change.colony)
    name = f" colony {other.name}" if other is not None else ""
    note = f" ({change.note})" if change.note else ""
    return (
        f"Colony {change.colony.name}, {day(change.happened_on)}: {words[0].lower()}{words[1:]}{name}{note}"
    )
