"""Where bees came from and where they went: ancestors by splits, and what became of a colony that is gone."""

import datetime as dt
from collections.abc import Collection, Mapping
from dataclasses import dataclass

from django.db.models import Q

from apiaries.models import ChangeKind, Colony, ColonyChange
from apiaries.on_page import ColonyOnPage


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


def ancestors_for(page: ColonyOnPage) -> list[Ancestor]:
    """Those of a page's colony: `page.once(ancestors_for)`."""
    return ancestors_of(page.colony)


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


@dataclass(frozen=True, slots=True)
class BeesChanged:
    """By colony: the days on which its bees or queen changed, oldest first; what it was split from, and when."""

    mixed: Mapping[int, list[Mixed]]
    mothers: Mapping[int, tuple[int, dt.date]]

    def between(self, colony: int, first: dt.date, last: dt.date) -> set[ChangeKind]:
        """What changed in those days. Both ends count: nobody noted whether the bees or the jar came first."""
        return {one.kind for one in self.mixed.get(colony, ()) if first <= one.on <= last}


def bees_changed(colonies: Collection[int]) -> BeesChanged:
    """What is noted of these colonies' bees and queens. One query."""
    asked = set(colonies)
    mixed: dict[int, list[Mixed]] = {}
    mothers: dict[int, tuple[int, dt.date]] = {}
    rows = ColonyChange.objects.standing().filter(Q(colony__in=asked) | Q(other__in=asked))
    for change in rows.exclude(kind=ChangeKind.ENDED).order_by("happened_on", "pk"):
        kind = ChangeKind(change.kind)
        changed = change.other_id if kind is ChangeKind.UNITED else change.colony_id
        if changed in asked:
            mixed.setdefault(changed, []).append(Mixed(change.happened_on, kind))
        if kind is ChangeKind.SPLIT and change.other_id in asked:
            mothers[change.other_id] = (change.colony_id, change.happened_on)
    return BeesChanged(mixed, mothers)
