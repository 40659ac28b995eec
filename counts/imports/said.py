"""What was said about a sheet, as it is kept with its batch. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

from counts.imports.columns import Column, Meaning
from counts.imports.days import DayOrder
from counts.samples import Method

LEAVE_OUT = 0
"""In place of a yard's key: the rows of this name are left out."""


@dataclass(frozen=True, slots=True)
class Said:
    """Answers about one sheet. What nobody said is None or missing, and is asked where it matters."""

    sheet: str | None = None
    encoding: str | None = None
    delimiter: str | None = None
    header_row: int | None = None
    columns: Mapping[int, Meaning] | None = None
    """What each column holds by its number, from 0; None: as its heading says."""
    order: DayOrder | None = None
    method: Method | None = None
    method_words: Mapping[str, Method] = field(default_factory=dict)
    measure: str | None = None
    treated: bool | None = None
    yard: int | None = None
    """The yard of rows that name none."""
    yards: Mapping[str, int] = field(default_factory=dict)
    """The yard meant by a name that is no yard's, or `LEAVE_OUT`."""

    def stored(self) -> dict[str, Any]:
        """As JSON, without what nobody said."""
        kept = {name: value for name, value in asdict(self).items() if value not in (None, {})}
        if self.columns is not None:
            kept["columns"] = {
                str(place): [meaning.column.value, meaning.bees] for place, meaning in self.columns.items()
            }
        return kept


def said_in(stored: Mapping[str, Any]) -> Said:
    """The answers as they were stored."""
    kept = dict(stored)
    if (columns := kept.get("columns")) is not None:
        kept["columns"] = {int(at): Meaning(Column(name), bees) for at, (name, bees) in columns.items()}
    if kept.get("order"):
        kept["order"] = DayOrder(kept["order"])
    if kept.get("method"):
        kept["method"] = Method(kept["method"])
    kept["method_words"] = {word: Method(one) for word, one in kept.get("method_words", {}).items()}
    return Said(**kept)
