"""Ticks as a phone sends them: read with care, each kept on its own, each answered by its own key."""

import datetime as dt
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.utils import timezone

from apiaries.entries import Answer, Refused, State, echo_of, is_text, key_in, moment_in
from apiaries.language import say
from apiaries.models import Person
from treatments.actions import AlreadyClosed
from treatments.day_actions import mark_hive, undo_mark
from treatments.entry_keys import EntryKeyReused
from treatments.models import DaySheet, SheetHive, SheetMark, Step

BYTES_MAX = 256 * 1024
ENTRIES_MAX = 200
CLOCK_AHEAD = dt.timedelta(days=1)  # our choice: a phone's clock may be wrong, a tick of next week is a slip
CLOCK_BEHIND = dt.timedelta(hours=1)  # our choice: clocks of phone and server differ


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """A tick, or the undoing of one by its key."""

    key: uuid.UUID
    hive: SheetHive
    step: Step
    at: dt.datetime
    remark: str
    undo: uuid.UUID | None


def keep_entries(sheet: DaySheet, entries: Sequence[object], person: Person) -> list[Answer]:
    """Keep each entry on its own; a bad one stands in nobody's way. Answers in the order sent."""
    hives = {hive.pk: hive for hive in sheet.hives.select_related("colony")}
    return [_kept(sheet, hives, told, person) for told in entries]


def _kept(sheet: DaySheet, hives: dict[int, SheetHive], told: object, person: Person) -> Answer:
    key = echo_of(told)
    try:
        entry = _read(sheet, hives, told)
        return Answer(
            key, _ticked(entry, person) if entry.undo is None else _undone(sheet, entry.undo, person)
        )
    except Refused as error:
        return Answer(key, State.REFUSED, str(error))
    except AlreadyClosed:
        return Answer(key, State.REFUSED, say("The round was noted as given, or its treatment cancelled."))
    except EntryKeyReused:
        return Answer(key, State.REFUSED, say("Another tick has this key."))


def _ticked(entry: Entry, person: Person) -> State:
    now = timezone.now()
    mark = mark_hive(
        hive=entry.hive,
        step=entry.step,
        ticked_at=entry.at,
        entry_key=entry.key,
        remark=entry.remark,
        at=now,
        by=person,
    )
    return State.SAVED if (mark.entry_key, mark.recorded_at) == (entry.key, now) else State.HERE


def _undone(sheet: DaySheet, key: uuid.UUID, person: Person) -> State:
    """Undo the tick with the key. One that never came counts for nothing, as an undone one does."""
    mark = SheetMark.objects.filter(hive__sheet=sheet, entry_key=key).first()
    if mark is None or mark.undone_at is not None:
        return State.HERE
    undo_mark(mark=mark, at=timezone.now(), by=person)
    return State.SAVED


def _read(sheet: DaySheet, hives: dict[int, SheetHive], told: object) -> Entry:
    if not isinstance(told, dict):
        raise Refused(say("This is no entry."))
    hive = told.get("hive")
    if not isinstance(hive, int) or isinstance(hive, bool) or hive not in hives:
        raise Refused(say("This hive is not on the sheet. Was it planned anew?"))
    step = told.get("step")
    if not isinstance(step, str) or step not in Step.values:
        raise Refused(say("There is no such step."))
    undo = told.get("undo")
    return Entry(
        key=key_in(told.get("key")),
        hive=hives[hive],
        step=Step(step),
        at=_moment(sheet, told.get("at")),
        remark=_remark(told),
        undo=None if undo is None else key_in(undo),
    )


def _moment(sheet: DaySheet, told: Any) -> dt.datetime:
    moment = moment_in(told)
    if moment is None:
        raise Refused(say("Its time cannot be read."))
    if moment > timezone.now() + CLOCK_AHEAD:
        raise Refused(say("Its time lies in the future. Is the phone’s clock right?"))
    if moment < sheet.recorded_at - CLOCK_BEHIND:
        raise Refused(say("Its time lies before this sheet was made. Is the phone’s clock right?"))
    return moment


def _remark(told: dict[str, Any]) -> str:
    remark = told.get("remark") or ""
    longest = SheetMark._meta.get_field("remark").max_length or 0
    if not is_text(remark):
        raise Refused(say("Its remark is no text."))
    if len(remark) > longest:
        raise Refused(say("Its remark is longer than {longest} characters.", longest=longest))
    return remark
