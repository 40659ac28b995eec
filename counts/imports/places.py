"""Which colony of which yard a row of a sheet is about. Yards and colonies are found, never made."""

import datetime as dt
import hashlib
import re
from collections import defaultdict
from collections.abc import Sequence

from django.db.models import QuerySet

from apiaries.models import Colony, ColonyMove, Person, Yard
from apiaries.standing import yards_on
from counts.imports.columns import Column
from counts.imports.reasons import Kind
from counts.imports.rows import Cells, Row
from counts.imports.said import LEAVE_OUT, Said

_PREFIX = re.compile(r"^(?:(?:colony|hive|volk|stock|beute|no|nr)(?![^\W\d_])\.?|#)\s*", re.IGNORECASE)
"""A word before a colony's number. A letter after it makes it part of a name: Norma, Stockholm."""
_ZEROS = re.compile(r"^0+(?=\d)")


def yards_of(by: Person, keeper: Person | None) -> "QuerySet[Yard]":
    """The yards that a sheet may be about: those in which who brings it may count, or those of one keeper."""
    yards = Yard.objects.filter(keeper=keeper) if keeper is not None else Yard.objects.recordable_by(by)
    return yards.select_related("club", "keeper").order_by("pk")


class Places:
    """Finds the colony of each row: the one of that name that stood in that yard on that day."""

    def __init__(self, by: Person, keeper: Person | None, said: Said, today: dt.date) -> None:
        self.said, self.today = said, today
        self.by_key = {yard.pk: yard for yard in yards_of(by, keeper)}
        self.named: dict[str, list[Yard]] = defaultdict(list)
        for yard in self.by_key.values():
            self.named[_plain(yard.name)].append(yard)
        allowed = Yard.objects.recordable_by(by).filter(pk__in=self.by_key)
        self.allowed = set(allowed.values_list("pk", flat=True))
        self.colonies: dict[str, list[Colony]] = defaultdict(list)
        for colony in Colony.objects.filter(yard__in=self.by_key).order_by("pk"):
            colony.yard = self.by_key[colony.yard_id]
            self.colonies[colony.name.casefold()].append(colony)

    def find(self, rows: Sequence[tuple[Row, Cells]], *, yards_named: bool) -> dict[int, tuple[Colony, Yard]]:
        """Colony and yard by row number; where there is none, the row's cells say why. One query.

        `yards_named`: whether any row of the sheet names a yard. Then a blank may stand for the yard above it (merged
        cells, or written once for several rows), so it is not taken for the only yard.
        """
        asked = [(row, cells, self._colonies(row.get(Column.COLONY))) for row, cells in rows]
        pairs = [(colony, cells.day or self.today) for _, cells, several in asked for colony in several]
        stood = iter(yards_on(pairs))
        found = {}
        for row, cells, several in asked:
            place = self._chosen(row, cells, [(colony, next(stood)) for colony in several], yards_named)
            if place is not None:
                found[row.number] = place
        return found

    def _colonies(self, name: str) -> list[Colony]:
        """Those of the name as it stands, without “hive” before it, or without zeros before a number."""
        bare = _PREFIX.sub("", name.casefold())
        return (
            self.colonies.get(name.casefold())
            or self.colonies.get(bare)
            or self.colonies.get(_ZEROS.sub("", bare), [])
        )

    def _chosen(
        self, row: Row, cells: Cells, there: list[tuple[Colony, Yard]], yards_named: bool
    ) -> tuple[Colony, Yard] | None:
        yards = self._yards(row, cells, yards_named)
        if not yards:
            return None
        name, day = row.get(Column.COLONY), cells.day or self.today
        if not name:
            cells.refuse(Column.COLONY, Kind.COLONY_MISSING)
            return None
        here = [(colony, yard) for colony, yard in there if yard.pk in yards]
        living = [one for one in here if _lived(one[0], day)]
        chosen = living or [one for one in here if one[0].ended_on is None] or here
        several = {yard.pk for _, yard in chosen}
        if len(chosen) == 1:
            return chosen[0]
        if not chosen:
            first = min(yards.values(), key=lambda yard: (yard.closed_on is not None, yard.pk))
            if len(yards) > 1 and sum(yard.closed_on is None for yard in yards.values()) != 1:
                cells.refuse(Column.YARD, Kind.YARD_TWICE, text=first.name)
            else:
                bare = _ZEROS.sub("", _PREFIX.sub("", name))[:40] or name[:40]
                cells.refuse(
                    Column.COLONY, Kind.COLONY_UNKNOWN, text=bare, yard=first.name, yard_key=first.pk
                )
        elif len(several) > 1:
            cells.refuse(Column.YARD, Kind.YARD_TWICE, text=chosen[0][1].name)
        else:
            cells.refuse(Column.COLONY, Kind.COLONY_TWICE, text=name, yard=chosen[0][1].name)
        return None

    def _yards(self, row: Row, cells: Cells, yards_named: bool) -> dict[int, Yard]:
        """The yards that the row may mean, by their keys; none, with a reason, where it means none that will do."""
        name = row.get(Column.YARD)
        known = self.by_key.get(self.said.yards.get(_plain(name), -1)) if name else None
        if known is not None:
            found = [known]
        elif name:
            found = self.named.get(_plain(name), [])
        elif self.said.yard in self.by_key:
            found = [self.by_key[self.said.yard]]
        else:
            found = [yard for yard in self.by_key.values() if yard.closed_on is None]
            if len(found) > 1 or yards_named:
                found = []
        if not name and not found:
            cells.refuse(Column.YARD, Kind.YARD_MISSING)
        elif not found:
            cells.refuse(Column.YARD, Kind.YARD_UNKNOWN, text=name[:200])
        elif not any(yard.pk in self.allowed for yard in found):
            cells.refuse(Column.YARD, Kind.YARD_SHUT, text=found[0].name)
        return {yard.pk: yard for yard in found if yard.pk in self.allowed}

    def left_out(self, row: Row) -> bool:
        """Whether somebody said that rows of this yard name are left out."""
        return self.said.yards.get(_plain(row.get(Column.YARD)), -1) == LEAVE_OUT

    def world(self) -> str:
        """A short word for the yards and colonies as they are: another one later means that something changed."""
        moves = ColonyMove.objects.filter(colony__yard__in=self.by_key).order_by("moved_on", "pk")
        told = [
            *(f"{yard.pk}|{yard.name}|{yard.pk in self.allowed}" for yard in self.by_key.values()),
            *(
                f"{one.pk}|{one.name}|{one.yard_id}|{one.started_on}|{one.started_known}|{one.ended_on}"
                for several in self.colonies.values()
                for one in several
            ),
            *(f"{one.colony_id}|{one.from_yard_id}|{one.moved_on}" for one in moves),
        ]
        return hashlib.sha256("\n".join(told).encode()).hexdigest()


def _plain(name: str) -> str:
    return " ".join(name.casefold().split())


def _lived(colony: Colony, day: dt.date) -> bool:
    began = colony.known_start is None or colony.known_start <= day
    return began and (colony.ended_on is None or day <= colony.ended_on)
