"""The only writers of devices, of a round's sheet and of what is ticked while working. Callers have passed a gate."""

import datetime as dt
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db import IntegrityError, transaction

from apiaries.history import action
from apiaries.language import mark, say
from apiaries.models import Colony, Person
from treatments.actions import (
    AlreadyClosed,
    NewDose,
    NewTreatment,
    NotPossible,
    give_round,
    record_treatment,
)
from treatments.dose import unit_of
from treatments.entry_keys import EntryKeyReused
from treatments.medicine_actions import RecordFields, complete_record
from treatments.models import DaySheet, Device, Round, SheetHive, SheetMark, Step, Treatment


@dataclass(frozen=True, kw_only=True)
class NewHive:
    """One hive of the sheet: what it is to get, in the application's unit, in how many loads."""

    colony: Colony
    amount: Decimal
    loads: int = 1


@dataclass(frozen=True, kw_only=True)
class NewSheet:
    """How a round is to be worked; hives in the order walked."""

    starts_at: dt.time
    hives: tuple[NewHive, ...]
    wait_minutes: Decimal
    sealed_minutes: Decimal
    people: int = 1
    device: Device | None = None
    heaters: int = 1


FINISHED = mark("filled in when the day was finished")


class SheetInUse(ValueError):
    """Something was ticked on the sheet: it is no longer planned anew."""


class NoHives(ValueError):
    """A sheet without hives is none."""


@action
def keep_device(
    *, device: Device | None, keeper: Person, facts: Mapping[str, Any], at: dt.datetime, by: Person
) -> Device:
    """Add a device of the keeper, or note its facts anew. ValidationError for a fact that cannot be."""
    kept = Device.objects.select_for_update().get(pk=device.pk) if device else Device(keeper=keeper)
    if device is None:
        kept.recorded_at, kept.recorded_by = at, by
    for name, value in facts.items():
        setattr(kept, name, value)
    kept.full_clean(exclude=["recorded_at", "recorded_by", "keeper"])
    kept.save()
    return kept


@action
def put_away_device(*, device: Device, at: dt.datetime, by: Person) -> Device:
    """The device is no longer used; sheets made with it keep it."""
    kept = Device.objects.select_for_update().get(pk=device.pk)
    if kept.put_away_at is not None:
        raise AlreadyClosed("This device was put away before.")
    kept.put_away_at = at
    kept.save(update_fields=["put_away_at"])
    return kept


@action
def plan_day(*, new: NewTreatment, sheet: NewSheet, at: dt.datetime, by: Person) -> Treatment:
    """Keep a planned treatment with its rounds, and the sheet of the first. The same entry key makes no second one."""
    treatment = record_treatment(new=new, at=at, by=by)
    first = treatment.rounds.get(number=1)
    if first.given_on is None and not DaySheet.objects.filter(round=first).exists():
        set_sheet(round_=first, sheet=sheet, at=at, by=by)
    return treatment


@action
def set_sheet(*, round_: Round, sheet: NewSheet, at: dt.datetime, by: Person) -> DaySheet:
    """Plan a round's day, or plan it anew. Errors: AlreadyClosed, SheetInUse, NoHives."""
    if not sheet.hives:
        raise NoHives("Tick at least one colony.")
    locked = _open_round(round_)
    if SheetMark.objects.filter(hive__sheet__round=locked).exists():
        raise SheetInUse("Something was ticked on this sheet.")
    facts = {
        "starts_at": sheet.starts_at,
        "people": sheet.people,
        "device": sheet.device,
        "heaters": sheet.heaters,
        "wait_minutes": sheet.wait_minutes,
        "sealed_minutes": sheet.sealed_minutes,
        "recorded_at": at,
        "recorded_by": by,
    }
    kept, _ = DaySheet.objects.update_or_create(round=locked, defaults=facts)
    kept.hives.all().delete()
    way = locked.treatment.application
    unit = unit_of(way.dose_unit, way.way)
    SheetHive.objects.bulk_create(
        SheetHive(
            sheet=kept, colony=one.colony, position=place, loads=one.loads, amount=one.amount, unit=unit
        )
        for place, one in enumerate(sheet.hives, start=1)
    )
    return kept


@action
def finish_round(
    *,
    round_: Round,
    given_on: dt.date,
    doses: Sequence[NewDose],
    told: RecordFields,
    began_at: dt.datetime | None = None,
    ended_at: dt.datetime | None = None,
    at: dt.datetime,
    by: Person,
) -> Round:
    """Turn a worked sheet into doses, and note what the pack says. All or nothing; the recount moves with it.

    Errors: those of `give_round`; NotPossible where it ended before it began.
    """
    if began_at is not None and ended_at is not None and ended_at < began_at:
        raise NotPossible(say("The work cannot have ended before it began."))
    given = give_round(round_=round_, given_on=given_on, doses=doses, at=at, by=by)
    DaySheet.objects.filter(round=given).update(began_at=began_at, ended_at=ended_at)
    complete_record(treatment=given.treatment, told=told, why=FINISHED, at=at, by=by)
    return given


@action
def mark_hive(
    *,
    hive: SheetHive,
    step: Step,
    ticked_at: dt.datetime,
    entry_key: uuid.UUID,
    remark: str = "",
    at: dt.datetime,
    by: Person,
) -> SheetMark:
    """Keep a tick. The same key, or a second tick of the same step, is the tick that is already there.

    Errors: AlreadyClosed once the round was given or its treatment cancelled; EntryKeyReused.
    """
    earlier = _tick_with(entry_key, hive, step, by)
    if earlier is None:
        _open_round(hive.sheet.round)
        earlier = _tick_with(entry_key, hive, step, by)  # the same tick sent twice at once
    if earlier is not None:
        return earlier
    mark = SheetMark(
        hive=hive,
        step=step.value,
        at=ticked_at,
        remark=remark.strip(),
        entry_key=entry_key,
        recorded_at=at,
        recorded_by=by,
    )
    try:
        with transaction.atomic():
            mark.save()
    except IntegrityError as error:
        if "treatments_sheetmark_once" not in str(error):
            raise
        return SheetMark.objects.get(hive=hive, step=step.value, undone_at=None)
    return mark


def _tick_with(entry_key: uuid.UUID, hive: SheetHive, step: Step, by: Person) -> SheetMark | None:
    """The tick that has the key; EntryKeyReused if it is another one."""
    earlier = SheetMark.objects.filter(entry_key=entry_key).first()
    if earlier is None or (earlier.hive_id, earlier.step, earlier.recorded_by_id) == (hive.pk, step, by.pk):
        return earlier
    raise EntryKeyReused("Another tick has this entry key.")


@action
def undo_mark(*, mark: SheetMark, at: dt.datetime, by: Person) -> SheetMark:
    """The tick was a slip: it stays, and no longer counts. A tick undone before stays as it is."""
    locked = SheetMark.objects.select_for_update().get(pk=mark.pk)
    if locked.undone_at is None:
        _open_round(locked.hive.sheet.round)
        locked.undone_at, locked.undone_by = max(at, locked.recorded_at), by
        locked.save(update_fields=["undone_at", "undone_by"])
    return locked


def _open_round(round_: Round) -> Round:
    """The round, locked, with what belongs to it; AlreadyClosed once it was given or its treatment cancelled."""
    rows = Round.objects.select_for_update(of=("self", "treatment")).select_related(
        "treatment__yard", "treatment__application"
    )
    locked = rows.get(pk=round_.pk)
    if locked.given_on is not None or locked.treatment.cancelled_at is not None:
        raise AlreadyClosed("This round was given before, or its treatment was cancelled.")
    return locked
