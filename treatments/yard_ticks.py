"""Ticks as a phone sends them: read with care, each kept on its own, each answered by its own key."""

import datetime as dt
import json
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from django.utils import timezone

from apiaries.models import Person
from treatments.actions import AlreadyClosed, EntryKeyReused
from treatments.day_actions import mark_hive, undo_mark
from treatments.models import DaySheet, SheetHive, SheetMark, Step

BYTES_MAX = 256 * 1024
ENTRIES_MAX = 200
KEY_LENGTH_MAX = 64
CLOCK_AHEAD = dt.timedelta(days=1)  # our choice: a phone's clock may be wrong, a tick of next week is a slip
CLOCK_BEHIND = dt.timedelta(hours=1)  # our choice: clocks of phone and server differ


class NotEntries(ValueError):
    """What was sent is no list of entries; the text says why, the status how to answer."""

    def __init__(self, words: str, status: int = 400) -> None:
        super().__init__(words)
        self.status = status


class Refused(ValueError):
    """One entry cannot be kept; the text says why."""


class State(StrEnum):
    """What became of an entry. The phone throws away what is saved or here, and shows what was refused."""

    SAVED = "saved"
    HERE = "here"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True)
class Answer:
    """What became of the entry with this key."""

    key: str | None
    state: State
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """A tick, or the undoing of one by its key."""

    key: uuid.UUID
    hive: SheetHive
    step: Step
    at: dt.datetime
    remark: str
    undo: uuid.UUID | None


def entries_in(body: bytes, person: Person) -> list[object]:
    """The entries of a request, each still to be read. Errors: NotEntries."""
    try:
        told = json.loads(body)
    except (ValueError, RecursionError) as error:
        raise NotEntries("This is no JSON.") from error
    entries = told.get("entries") if isinstance(told, dict) else None
    if not isinstance(entries, list):
        raise NotEntries("A list named entries is missing.")
    if told.get("person", person.pk) != person.pk:
        raise NotEntries("Somebody else is signed in.", status=409)
    if len(entries) > ENTRIES_MAX:
        raise NotEntries(f"At most {ENTRIES_MAX} entries at once.")
    return entries


def keep_entries(sheet: DaySheet, entries: Sequence[object], person: Person) -> list[Answer]:
    """Keep each entry on its own; a bad one stands in nobody's way. Answers in the order sent."""
    hives = {hive.pk: hive for hive in sheet.hives.select_related("colony")}
    return [_kept(sheet, hives, told, person) for told in entries]


def _kept(sheet: DaySheet, hives: dict[int, SheetHive], told: object, person: Person) -> Answer:
    key = _echo(told)
    try:
        entry = _read(sheet, hives, told)
        return Answer(
            key, _ticked(entry, person) if entry.undo is None else _undone(sheet, entry.undo, person)
        )
    except Refused as error:
        return Answer(key, State.REFUSED, str(error))
    except AlreadyClosed:
        return Answer(key, State.REFUSED, "The round was noted as given, or its treatment cancelled.")
    except EntryKeyReused:
        return Answer(key, State.REFUSED, "Another tick has this key.")


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
        raise Refused("This is no entry.")
    hive = told.get("hive")
    if not isinstance(hive, int) or isinstance(hive, bool) or hive not in hives:
        raise Refused("This hive is not on the sheet. Was it planned anew?")
    step = told.get("step")
    if not isinstance(step, str) or step not in Step.values:
        raise Refused("There is no such step.")
    undo = told.get("undo")
    return Entry(
        key=_key(told.get("key")),
        hive=hives[hive],
        step=Step(step),
        at=_moment(sheet, told.get("at")),
        remark=_remark(told),
        undo=None if undo is None else _key(undo),
    )


def _echo(told: object) -> str | None:
    """The key as it was sent, if it is one that can be sent back."""
    key = told.get("key") if isinstance(told, dict) else None
    return key if isinstance(key, str) and len(key) <= KEY_LENGTH_MAX and key.isascii() else None


def _key(told: Any) -> uuid.UUID:
    try:
        return uuid.UUID(told) if isinstance(told, str) else uuid.UUID("")
    except ValueError as error:
        raise Refused("Its key is no UUID.") from error


def _moment(sheet: DaySheet, told: Any) -> dt.datetime:
    try:
        moment = dt.datetime.fromisoformat(told) if isinstance(told, str) else None
    except ValueError:
        moment = None
    if moment is None or moment.tzinfo is None:
        raise Refused("Its time cannot be read.")
    if moment > timezone.now() + CLOCK_AHEAD:
        raise Refused("Its time lies in the future. Is the phone’s clock right?")
    if moment < sheet.recorded_at - CLOCK_BEHIND:
        raise Refused("Its time lies before this sheet was made. Is the phone’s clock right?")
    return moment


def _remark(told: dict[str, Any]) -> str:
    remark = told.get("remark") or ""
    longest = SheetMark._meta.get_field("remark").max_length or 0
    if not isinstance(remark, str) or "\0" in remark or any("\ud800" <= one <= "\udfff" for one in remark):
        raise Refused("Its remark is no text.")
    if len(remark) > longest:
        raise Refused(f"Its remark is longer than {longest} characters.")
    return remark
