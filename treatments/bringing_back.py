"""Treatments with all that belongs to them, and heaters, from a file into the yards of whoever brings it."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from django.db import models
from django.db.backends.postgresql.psycopg_any import DateRange

from apiaries.actions.bringing_back import Places
from apiaries.bringing_back import (
    CannotBringBack,
    FileRow,
    People,
    by_key,
    found_in,
    keep_all,
    refuse_known,
)
from apiaries.history import action
from apiaries.language import say
from apiaries.models import Colony, Person, Yard
from counts.samples import Kind
from treatments.actions import TYPED, days_in_hive
from treatments.chain import What
from treatments.chain_actions import note_uses
from treatments.models import (
    Application,
    DaySheet,
    Device,
    Dose,
    Recount,
    Round,
    SheetHive,
    SheetMark,
    Treatment,
)
from treatments.signals import treatment_changed

RECOUNT_KINDS = frozenset({*Kind, "jar", "either"})
DEVICE_FACTS = (
    *("name", "number", "grams_per_load", "watts", "amps", "volts", "tried_on", "first_minutes"),
    *("following_minutes", "cool_minutes", "batteries", "battery_ah", "rated_hours", "usable_share"),
    *("peukert", "put_away_at"),
)
Kept = TypeVar("Kept", bound=models.Model)
Rounds = Mapping[tuple[uuid.UUID, int], Round]


@dataclass(frozen=True)
class TreatedRows:
    """Rows of treatments in a keeper's own yards and of what belongs to them; the keeper's heaters."""

    devices: Sequence[FileRow]
    treatments: Sequence[FileRow]
    rounds: Sequence[FileRow]
    doses: Sequence[FileRow]
    recounts: Sequence[FileRow]
    sheets: Sequence[FileRow]
    hives: Sequence[FileRow]
    ticks: Sequence[FileRow]


@action
def bring_back_treatments(
    *, keeper: Person, rows: TreatedRows, places: Places, people: People, at: dt.datetime, by: Person
) -> list[Treatment]:
    """Write treatments as they were, planned, given or cancelled, each with the recount it owed.

    Errors: CannotBringBack.
    """
    Yard.objects.hold(yard.pk for yard in places.yards.values())
    devices = _devices(rows.devices, keeper, people)
    known = by_key(rows.treatments, "entry_key")
    refuse_known(Treatment, known)
    ways = {way.key: way for way in Application.objects.all()}
    treatments = keep_all(rows.treatments, lambda row: _treatment(row, ways, places, people))
    by_entry = {one.entry_key: one for one in treatments}
    rounds = _rounds(rows, by_entry, today=at.date() + dt.timedelta(days=1))
    keep_all(rows.doses, lambda row: _dose(row, rounds, places.colonies, people))
    _recounts(rows, by_entry, people)
    _sheets(rows, rounds, devices, places, people)
    note_uses([treatment.pk for treatment in treatments], what=What.BROUGHT_BACK)
    for treatment in treatments:
        treatment_changed.send(Treatment, treatment=treatment)
    return treatments


def _devices(rows: Sequence[FileRow], keeper: Person, people: People) -> dict[int, Device]:
    numbers = by_key(rows, "heater")
    made = keep_all(
        rows,
        lambda row: Device(keeper=keeper, **row.only(*DEVICE_FACTS), **people.by(row, "recorded")),
    )
    return dict(zip(numbers, made, strict=True))


def _treatment(row: FileRow, ways: Mapping[str, Application], places: Places, people: People) -> Treatment:
    way = ways.get(row["way"])
    if way is None:
        raise CannotBringBack(row, say("This way of treating is not known here."), "way")
    return Treatment(
        yard=found_in(places.yards, row, "yard"),
        application=way,
        **row.only("entry_key", "withdrawal_days", *TYPED),
        **people.by(row, "recorded", "cancelled"),
    )


def _rounds(rows: TreatedRows, treatments: Mapping[uuid.UUID, Treatment], *, today: dt.date) -> Rounds:
    last: dict[uuid.UUID, Round] = {}

    def made(row: FileRow) -> Round:
        one = Round(
            treatment=found_in(treatments, row, "treatment"),
            number=row["round"],
            **row.only("planned_on", "given_on", "out_on", "out_by"),
        )
        before = last.get(row["treatment"])
        _refuse_order(row, one, before, today)
        last[row["treatment"]] = one
        return one

    kept = keep_all(rows.rounds, made, {"number": "round"})
    if without := next((row for row in rows.treatments if row["entry_key"] not in last), None):
        raise CannotBringBack(without, say("A treatment has at least one round."))
    return {(one.treatment.entry_key, one.number): one for one in kept}


def _refuse_order(row: FileRow, one: Round, before: Round | None, today: dt.date) -> None:
    if one.number != (before.number if before else 0) + 1:
        raise CannotBringBack(row, say("Rounds are numbered from 1, without a gap, in order."), "round")
    if one.planned_on is None:
        raise CannotBringBack(row, say("This cell is empty."), "planned_on")
    if any(day is not None and day > today for day in (one.given_on, one.out_on)):
        raise CannotBringBack(row, say("A round cannot have been given in the future."), "given_on")


def _dose(row: FileRow, rounds: Rounds, colonies: Mapping[str, Colony], people: People) -> Dose:
    round_ = _round_of(row, rounds)
    in_hive: DateRange | None = days_in_hive(round_)
    if in_hive is None:
        raise CannotBringBack(row, say("A round that was not given has no doses."), "round")
    return Dose(
        round=round_,
        colony=found_in(colonies, row, "colony"),
        ingredient=round_.treatment.application.ingredient,
        in_hive=in_hive,
        **row.only("amount", "unit", "why_above"),
        **people.by(row, "voided"),
    )


def _round_of(row: FileRow, rounds: Rounds) -> Round:
    found = rounds.get((row["treatment"], row["round"]))
    if found is None:
        raise CannotBringBack(row, say("No row of this file that is yours has this key."), "round")
    return found


def _recounts(rows: TreatedRows, treatments: Mapping[uuid.UUID, Treatment], people: People) -> None:
    owed = by_key(rows.recounts, "treatment")
    if without := next((row for row in rows.treatments if row["entry_key"] not in owed), None):
        raise CannotBringBack(without, say("The recount of this treatment is missing."))

    def made(row: FileRow) -> Recount:
        if row["kind"] not in RECOUNT_KINDS:
            raise CannotBringBack(row, say("There is no such kind of count."), "kind")
        return Recount(
            treatment=found_in(treatments, row, "treatment"),
            **row.only("earliest_on", "ideal_on", "latest_on", "kind", "reason", "source"),
            **people.by(row, "skipped"),
        )

    keep_all(rows.recounts, made)


def _sheets(
    rows: TreatedRows, rounds: Rounds, devices: Mapping[int, Device], places: Places, people: People
) -> None:
    def sheet(row: FileRow) -> DaySheet:
        return DaySheet(
            round=_round_of(row, rounds),
            device=found_in(devices, row, "heater") if row["heater"] is not None else None,
            **row.only("starts_at", "people", "heaters", "wait_minutes", "sealed_minutes"),
            **row.only("began_at", "ended_at"),
            **people.by(row, "recorded"),
        )

    sheets = {(row["treatment"], row["round"]): one for row, one in _kept(rows.sheets, sheet)}

    def hive(row: FileRow) -> SheetHive:
        return SheetHive(
            sheet=_of_sheet(sheets, row, (row["treatment"], row["round"])),
            colony=found_in(places.colonies, row, "colony"),
            **row.only("position", "loads", "amount", "unit"),
        )

    hives = {(row["treatment"], row["round"], row["position"]): one for row, one in _kept(rows.hives, hive)}
    refuse_known(SheetMark, by_key(rows.ticks, "entry_key"))
    keep_all(
        rows.ticks,
        lambda row: SheetMark(
            hive=_of_sheet(hives, row, (row["treatment"], row["round"], row["position"])),
            **row.only("entry_key", "step", "at", "remark"),
            **people.by(row, "recorded", "undone"),
        ),
    )


def _kept(rows: Sequence[FileRow], make: Callable[[FileRow], Kept]) -> Iterator[tuple[FileRow, Kept]]:
    return zip(rows, keep_all(rows, make), strict=True)


def _of_sheet(known: Mapping[Any, Kept], row: FileRow, key: Any) -> Kept:
    found = known.get(key)
    if found is None:
        raise CannotBringBack(row, say("No row of this file that is yours has this key."), "round")
    return found
