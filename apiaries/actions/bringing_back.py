"""Yards and colonies with their past, from a file into the yards of whoever brings it."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import h3

from apiaries.actions.colonies import number_of, tell_yards
from apiaries.actions.yards import NotAMember
from apiaries.bringing_back import (
    CannotBringBack,
    FileRow,
    People,
    by_key,
    found_in,
    keep_all,
)
from apiaries.history import action
from apiaries.language import say
from apiaries.models import Colony, ColonyChange, ColonyMove, Person, Region, Yard
from apiaries.models.places import COARSE_RESOLUTION, LABEL_LETTERS, coarse_cell, new_label_code

_CELL = re.compile("[0-9a-f]{15}")
"""As cells are written here; the library takes other spellings too, and fails at longer ones."""
_LABEL = re.compile(f"[{LABEL_LETTERS}]{{4,12}}")


@dataclass(frozen=True)
class PlaceRows:
    """Rows of a keeper's own yards and of what belongs to them."""

    yards: Sequence[FileRow]
    colonies: Sequence[FileRow]
    moves: Sequence[FileRow] = ()
    changes: Sequence[FileRow] = ()


@dataclass(frozen=True)
class Places:
    """What was made, by the keys of the file."""

    yards: Mapping[int, Yard]
    colonies: Mapping[str, Colony]
    relabelled: list[Colony] = field(default_factory=list)
    """Colonies whose hive needs a new label: another colony of this server has the code."""


@action
def bring_back_places(
    *,
    keeper: Person,
    rows: PlaceRows,
    regions: Mapping[str, Region],
    people: People,
    at: dt.datetime,
    by: Person,
) -> Places:
    """Write yards, colonies, moves and what happened to them, as they were, for `keeper` in their club.

    `regions`: by the names in the file. Errors: NotAMember; CannotBringBack.
    """
    membership = keeper.membership
    if membership is None or any(one.club_id != membership.club_id for one in regions.values()):
        raise NotAMember("A yard belongs to the keeper's own club.")
    numbers = by_key(rows.yards, "yard")
    yards = keep_all(rows.yards, lambda row: _yard(row, keeper, regions), {"cell": "area"})
    for yard in yards:
        yard.club = membership.club
    by_number = dict(zip(numbers, yards, strict=True))
    codes = by_key(rows.colonies, "label_code")
    taken = set(Colony.objects.filter(label_code__in=list(codes)).values_list("label_code", flat=True))
    colonies = keep_all(rows.colonies, lambda row: _colony(row, by_number, taken), {"number": "name"})
    by_code = dict(zip(codes, colonies, strict=True))
    keep_all(rows.moves, lambda row: _move(row, by_code, by_number, people))
    keep_all(rows.changes, lambda row: _change(row, by_code, people))
    if yards:
        tell_yards(*(yard.pk for yard in yards))
    return Places(by_number, by_code, [one for code, one in by_code.items() if code in taken])


def _yard(row: FileRow, keeper: Person, regions: Mapping[str, Region]) -> Yard:
    region = regions.get(row["region"])
    if region is None:
        raise CannotBringBack(row, say("Choose a region of your club for it."), "region")
    latitude, longitude = row["latitude"], row["longitude"]
    if (latitude is None) != (longitude is None):
        raise CannotBringBack(row, say("A place has a latitude and a longitude."), "latitude")
    if latitude is not None and not (abs(latitude) <= 90 and abs(longitude) <= 180):
        raise CannotBringBack(row, say("There is no such place on earth."), "latitude")
    return Yard(
        club_id=region.club_id,
        keeper=keeper,
        region=region,
        latitude=latitude,
        longitude=longitude,
        cell=_cell(row),
        **row.only("name", "time_zone", "made_at", "closed_on"),
    )


def _cell(row: FileRow) -> str:
    """The area, from the exact place where there is one."""
    if row["latitude"] is not None:
        return coarse_cell(float(row["latitude"]), float(row["longitude"]))
    cell: str = row["area"]
    if cell and not _is_coarse_cell(cell):
        raise CannotBringBack(row, say("This is no map cell."), "area")
    return cell


def _is_coarse_cell(cell: str) -> bool:
    written = _CELL.fullmatch(cell) is not None
    return written and h3.is_valid_cell(cell) and h3.get_resolution(cell) == COARSE_RESOLUTION


def _colony(row: FileRow, yards: Mapping[int, Yard], taken: set[str]) -> Colony:
    code = row["label_code"]
    if not _LABEL.fullmatch(code):
        raise CannotBringBack(row, say("This is no code of a label."), "label_code")
    return Colony(
        yard=found_in(yards, row, "yard"),
        label_code=new_label_code() if code in taken else code,
        number=number_of(row["name"]),
        **row.only("name", "brood_boxes", "supers_on", "brood", "brood_seen_on"),
        **row.only("started_on", "started_known", "ended_on", "ended_why"),
    )


def _move(
    row: FileRow, colonies: Mapping[str, Colony], yards: Mapping[int, Yard], people: People
) -> ColonyMove:
    return ColonyMove(
        colony=found_in(colonies, row, "colony"),
        from_yard=found_in(yards, row, "from_yard"),
        to_yard=found_in(yards, row, "to_yard"),
        moved_on=row["moved_on"],
        **people.by(row, "recorded"),
    )


def _change(row: FileRow, colonies: Mapping[str, Colony], people: People) -> ColonyChange:
    return ColonyChange(
        colony=found_in(colonies, row, "colony"),
        other=found_in(colonies, row, "other") if row["other"] else None,
        **row.only("kind", "happened_on", "note"),
        **people.by(row, "recorded", "voided"),
    )
