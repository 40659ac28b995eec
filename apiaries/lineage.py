"""Where bees came from and where they went: ancestors by splits, and what became of a colony that is gone."""

import datetime as dt
from collections.abc import Collection, Mapping
from dataclasses import dataclass

from apiaries.models import ChangeKind, Colony, ColonyChange


@dataclass(frozen=True, slots=True)
class Ancestor:
    """A colony that this one was split from, itself or through others; what it did until that day is shared."""

    colony: Colony
    until: dt.date


def ancestors_of(colony: Colony) -> list[Ancestor]:
    """The mother first, then hers. One query for each generation, and one to find that there are no more."""
    found: list[Ancestor] = []
    current, until = colony, dt.date.max
    splits = ColonyChange.objects.standing().filter(kind=ChangeKind.SPLIT).select_related("colony__yard")
    while (split := splits.filter(other=current).first()) is not None:
        current, until = split.colony, min(until, split.happened_on)
        found.append(Ancestor(current, until))
    return found


def became_of(colony: Colony) -> list[Colony]:
    """The colonies its bees went into by unions, one after the other; the last one lives, or died as it was."""
    found: list[Colony] = []
    unions = ColonyChange.objects.standing().filter(kind=ChangeKind.UNITED).select_related("other__yard")
    while (union := unions.filter(colony=colony).first()) is not None and union.other is not None:
        colony = union.other
        found.append(colony)
    return found


@dataclass(frozen=True, slots=True)
class Mixed:
    """On that day bees left the colony (a split), came in from another (a union), or it got another queen."""

    on: dt.date
    kind: ChangeKind


def mixed_days(colonies: Collection[int]) -> Mapping[int, list[Mixed]]:
    """By colony, the days on which its bees or its queen changed, oldest first. One query."""
    found: dict[int, list[Mixed]] = {}
    standing = ColonyChange.objects.standing()
    rows = standing.filter(
        colony__in=colonies, kind__in=(ChangeKind.SPLIT, ChangeKind.REQUEENED)
    ).values_list("colony", "happened_on", "kind")
    into = standing.filter(other__in=colonies, kind=ChangeKind.UNITED)
    for colony, on, kind in sorted(rows.union(into.values_list("other", "happened_on", "kind"), all=True)):
        found.setdefault(colony, []).append(Mixed(on, ChangeKind(kind)))
    return found
