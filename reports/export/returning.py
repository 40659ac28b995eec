"""An export back into the yards of whoever brings it: all of it that is theirs, in one transaction, or nothing."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from django.db import transaction

from apiaries.actions.bringing_back import PlaceRows, Places, bring_back_places
from apiaries.bringing_back import CannotBringBack, FileRow, People
from apiaries.history import action
from apiaries.language import say
from apiaries.models import Person, Region
from counts.bringing_back import bring_back_counts
from reports.export.catalogue import BACK
from reports.export.cells import CellKind
from reports.export.reading import MOST_TROUBLES, Package, Trouble
from reports.export.tables import Scope
from treatments.bringing_back import TreatedRows, bring_back_treatments
from treatments.bringing_medicines import bring_back_medicines

CLOCKS_DIFFER = dt.timedelta(hours=1)
"""What was noted on another server may be that much ahead of this one's clock (our choice)."""


@dataclass
class Own:
    """The rows of a file that are its owner's, table by table, and how many are other keepers' and stay out."""

    rows: dict[str, list[FileRow]]
    left_out: int = 0


@dataclass(frozen=True)
class Brought:
    """What was brought in."""

    places: Places
    rows: Mapping[str, int] = field(default_factory=dict)


def own_of(package: Package) -> Own:
    """Only what the owner of the file kept: nothing is written into other people's yards."""
    own = Own({})
    others = {row["yard"] for row in package["yards"] if not row["yours"]}
    colonies = _keys(package["colonies"], "label_code", where=lambda row: row["yard"] in others)
    treatments = _keys(package["treatments"], "entry_key", where=lambda row: row["yard"] in others)
    counts = _keys(package["counts"], "entry_key", where=lambda row: row["yard"] in others)

    def foreign(row: FileRow) -> bool:
        cells = row.cells
        if "yours" in cells:
            return not cells["yours"]
        return (
            any(cells.get(column) in others for column in ("yard", "from_yard", "to_yard"))
            or any(cells.get(column) in colonies for column in ("colony", "other"))
            or cells.get("treatment") in treatments
            or cells.get("count") in counts
        )

    for name in BACK:
        own.rows[name] = [row for row in package[name] if not foreign(row)]
        own.left_out += len(package[name]) - len(own.rows[name])
    return own


def _keys(rows: Iterable[FileRow], column: str, *, where: object) -> set[object]:
    return {row[column] for row in rows if where(row)}  # type: ignore[operator]


def region_names(package: Package) -> list[str]:
    """Regions that the file's own yards lie in, as it calls them."""
    return sorted({row["region"] for row in package["yards"] if row["yours"]})


@action
def bring_back(
    *, package: Package, regions: Mapping[str, Region], person: Person, at: dt.datetime, by: Person
) -> Brought:
    """Write what is the person's own in the file. Errors: CannotBringBack, and then nothing was written."""
    own = own_of(package).rows
    _refuse_future(own, at)
    people = People(person, package.made_for)
    for name, rows in own.items():
        people.meet(rows, _names_in(name))
    places = bring_back_places(
        keeper=person,
        rows=PlaceRows(own["yards"], own["colonies"], own["moves"], own["life_events"]),
        regions=regions,
        people=people,
        at=at,
        by=by,
    )
    # Treatments before counts: what follows from both is then worked out once, with the counts.
    bring_back_treatments(keeper=person, rows=_treated(own), places=places, people=people, at=at, by=by)
    bring_back_counts(
        rows=own["counts"], restored=own["counts_restored"], places=places, people=people, at=at, by=by
    )
    bring_back_medicines(
        keeper=person,
        purchases=own["purchases"],
        disposals=own["disposals"],
        people=people,
        at=at,
        by=by,
    )
    return Brought(places, {name: len(rows) for name, rows in own.items()})


def _names_in(table: str) -> list[str]:
    """The columns that say who did something."""
    columns = BACK[table].columns
    return [one.name for one in columns if one.make is Scope.who and one.name.endswith("_by")]


def _treated(own: Mapping[str, Sequence[FileRow]]) -> TreatedRows:
    return TreatedRows(
        devices=own["heaters"],
        treatments=own["treatments"],
        rounds=own["rounds"],
        doses=own["doses"],
        recounts=own["recounts"],
        sheets=own["sheets"],
        hives=own["sheet_hives"],
        ticks=own["ticks"],
    )


def try_out(
    *, package: Package, regions: Mapping[str, Region], person: Person, at: dt.datetime
) -> tuple[Brought | None, list[Trouble]]:
    """What would be brought in, or what is in the way: everything is written as it would be, and taken back."""
    if package.troubles:
        return None, package.troubles[:MOST_TROUBLES]
    try:
        with transaction.atomic():
            brought = bring_back(package=package, regions=regions, person=person, at=at, by=person)
            transaction.set_rollback(True)
        return brought, []
    except CannotBringBack as error:
        return None, [Trouble(error.row.table, error.row.number, error.column, str(error))]


def _refuse_future(own: Mapping[str, Sequence[FileRow]], at: dt.datetime) -> None:
    latest = at + CLOCKS_DIFFER
    for name, rows in own.items():
        columns = [one.name for one in BACK[name].columns if one.kind is CellKind.INSTANT]
        for row in rows:
            for column in columns:
                if row[column] is not None and row[column] > latest:
                    raise CannotBringBack(row, say("This is still to come."), column)
