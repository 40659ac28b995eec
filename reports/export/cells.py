"""Values as they stand in the cells of an export, and read back from there. Pure.

    as_text     a value as the text of a CSV cell, before it is guarded
    read_cell   the value that a text says; a NotACell says what stands there instead

Days and instants are written after ISO 8601, instants in UTC, numbers with a point and without trailing zeros. What is
empty is an empty cell: no number, no day; a text that is empty is the same as no text.
"""

from __future__ import annotations

import datetime as dt
import re
import uuid
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from enum import StrEnum

from apiaries.language import mark, say

YES, NO = "yes", "no"
Value = str | int | float | bool | Decimal | dt.date | dt.datetime | dt.time | uuid.UUID | None
LONGEST_NUMBER = 40
_WHOLE = re.compile(r"-?[0-9]{1,18}(\.0+)?")
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_MIDNIGHT = re.compile(r"([0-9]{4}-[0-9]{2}-[0-9]{2})[T ]00:00(:00(\.0+)?)?")


class CellKind(StrEnum):
    """What a column holds."""

    TEXT = "text"
    KEY = "key"
    WHOLE = "whole number"
    NUMBER = "number"
    DAY = "day"
    INSTANT = "instant"
    CLOCK = "time of day"
    YES_NO = "yes or no"


WRONG = {
    CellKind.TEXT: mark("“{text}” has characters that no text can have."),
    CellKind.KEY: mark("“{text}” is no key such as 01890a5d-ac96-774b-bcce-b302099a8057."),
    CellKind.WHOLE: mark("“{text}” is no whole number."),
    CellKind.NUMBER: mark("“{text}” is no number such as 12.5."),
    CellKind.DAY: mark("“{text}” is no day such as 2026-05-31."),
    CellKind.INSTANT: mark("“{text}” is no instant such as 2026-05-31T09:30:00Z."),
    CellKind.CLOCK: mark("“{text}” is no time of day such as 09:30."),
    CellKind.YES_NO: mark("“{text}” is neither yes nor no."),
}


@dataclass
class NotACell(ValueError):
    """The text is no value of this kind."""

    kind: CellKind
    text: str

    def __str__(self) -> str:
        """What is wrong with it, in the reader's language."""
        short = self.text if len(self.text) <= 60 else f"{self.text[:60]}…"
        return say(WRONG[self.kind], text=short.encode("utf-8", "replace").decode().replace("\0", "?"))


def as_text(value: Value) -> str:
    """The text of a cell; empty for None."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return YES if value else NO
    if isinstance(value, float):
        return repr(value)
    if isinstance(value, Decimal):
        return plain(value)
    if isinstance(value, dt.datetime):
        return instant_text(value)
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    return str(value)


def plain(value: Decimal) -> str:
    """Without trailing zeros and never with an exponent."""
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def instant_text(value: dt.datetime) -> str:
    """In UTC, with as many digits of a second as it has."""
    return f"{value.astimezone(dt.UTC).replace(tzinfo=None).isoformat()}Z"


def read_cell(kind: CellKind, text: str, *, places: int = 0) -> Value:
    """The value in a cell; `places` are the decimal places of a number. None for an empty one that is no text.

    Errors: NotACell.
    """
    if kind is CellKind.TEXT:
        return _text(text)
    told = text.strip()
    if not told:
        return None
    try:
        return _read(kind, told, places)
    except (ValueError, InvalidOperation, OverflowError) as error:
        raise NotACell(kind, text) from error


def _text(text: str) -> str:
    if "\0" in text or any("\ud800" <= letter <= "\udfff" for letter in text):
        raise NotACell(CellKind.TEXT, text)
    return text


def _read(kind: CellKind, told: str, places: int) -> Value:
    if kind is CellKind.KEY:
        return uuid.UUID(told)
    if kind is CellKind.WHOLE:
        return _whole(told)
    if kind is CellKind.NUMBER:
        return _number(told, places)
    if kind is CellKind.DAY:
        return _day(told)
    if kind is CellKind.INSTANT:
        return _instant(told)
    if kind is CellKind.CLOCK:
        return dt.time.fromisoformat(told).replace(tzinfo=None)
    if told.lower() in (YES, NO):
        return told.lower() == YES
    raise ValueError(told)


def _whole(told: str) -> int:
    if not _WHOLE.fullmatch(told):
        raise ValueError(told)
    return int(told.partition(".")[0])


def _number(told: str, places: int) -> Decimal:
    if len(told) > LONGEST_NUMBER:
        raise ValueError(told)
    number = Decimal(told)
    if not number.is_finite():
        raise ValueError(told)
    return number.quantize(Decimal(1).scaleb(-places))


def _day(told: str) -> dt.date:
    # A spreadsheet program that saved the file may have made a day into its midnight.
    midnight = _MIDNIGHT.fullmatch(told)
    told = midnight.group(1) if midnight else told
    if not _DAY.fullmatch(told):
        raise ValueError(told)
    return dt.date.fromisoformat(told)


def _instant(told: str) -> dt.datetime:
    at = dt.datetime.fromisoformat(told)
    if at.tzinfo is None:
        raise ValueError(told)
    return at.astimezone(dt.UTC)
