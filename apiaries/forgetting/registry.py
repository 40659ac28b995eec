"""What becomes of every column that can hold words, an address or a place, once a person is forgotten.

Each app lists the columns of its own models in its `columns_to_forget`. A column that is in no list fails
`tests/apiaries/test_forgetting_registry.py`, so that nobody adds one and forgets it here.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from django.apps import apps
from django.db import models
from pghistory.models import Event

from apiaries.models import Person

REMOVED = "removed"
"""Stands for a reason or a remark that had to be there: constraints ask for one beside who and when."""
FORMER = "Former member"
"""The name of everybody who is forgotten."""

Value = str | int | bool | list[Any] | dict[str, Any] | None


class Fate(StrEnum):
    """What becomes of a column of the rows that are the person's."""

    STAYS = "stays"
    EMPTIED = "emptied"
    REPLACED = "replaced"
    GONE = "gone"
    LOCKED = "locked"


@dataclass(frozen=True, slots=True)
class Column:
    """What becomes of one column.

    `whose`: ways from its row to the person, of which one is enough. `to`: what stands there afterwards, or a function
    of the person's key. `by_address`: also rows in which it is an address of theirs. `free`: others may have written
    about the person there. `elsewhere`: not set column by column but by the named function.
    """

    fate: Fate
    whose: tuple[str, ...] = ()
    to: Value | Callable[[int], Value] = ""
    by_address: bool = False
    free: bool = False
    elsewhere: str = ""
    why: str = ""

    def value_for(self, pk: int) -> Value:
        """What stands there for the person with this key."""
        return self.to(pk) if callable(self.to) else self.to


def stays(why: str) -> Column:
    """It names nobody, or is not the person's: why."""
    return Column(Fate.STAYS, why=why)


def others_words(why: str) -> Column:
    """What somebody wrote for all; a whole name or an address of the person in it is replaced."""
    return Column(Fate.STAYS, free=True, why=why)


def emptied(*whose: str, to: Value = "", free: bool = True, by_address: bool = False) -> Column:
    """Nothing stands there any more."""
    return Column(Fate.EMPTIED, whose, to, free=free, by_address=by_address)


def replaced(
    *whose: str,
    to: Value | Callable[[int], Value] = REMOVED,
    free: bool = True,
    by_address: bool = False,
    elsewhere: str = "",
) -> Column:
    """A neutral word stands there wherever something stood."""
    return Column(Fate.REPLACED, whose, to, by_address, free, elsewhere)


def gone(*whose: str, elsewhere: str = "") -> Column:
    """The whole row goes."""
    return Column(Fate.GONE, whose, elsewhere=elsewhere)


def locked(why: str) -> Column:
    """Kept under lock until the day that a rule names."""
    return Column(Fate.LOCKED, why=why)


@dataclass
class Registry:
    """All lists together. `rows_gone`: models whose rows go whole, in the order in which they can."""

    columns: dict[str, dict[str, Column]] = field(default_factory=dict)
    events: dict[str, dict[str, Column]] = field(default_factory=dict)
    tables: dict[str, str] = field(default_factory=dict)
    rows_gone: list[tuple[str, tuple[str, ...]]] = field(default_factory=list)

    def enter(
        self,
        label: str,
        columns: Mapping[str, Column],
        *,
        in_history: Mapping[str, Column] | None = None,
    ) -> None:
        """The columns of a model. In its history they share the fate, unless `in_history` says else."""
        self.columns[label] = dict(columns)
        self.events[label] = dict(in_history or {})
        whole = [column for column in columns.values() if column.fate is Fate.GONE and not column.elsewhere]
        if whole:
            self.remove(label, *whole[0].whose)

    def remove(self, label: str, *whose: str) -> None:
        """Rows of a model that go whole, where no column of it had to be listed."""
        if (label, whose) not in self.rows_gone:
            self.rows_gone.append((label, whose))

    def table(self, name: str, why: str) -> None:
        """A table without a model."""
        self.tables[name] = why

    def columns_of(self, model: type[models.Model]) -> dict[str, Column]:
        """Listed columns of a model or of its history, by the name of the field."""
        tracked = tracked_by(model)
        if tracked is None:
            return self.columns.get(model._meta.label, {})
        label = tracked._meta.label
        return {**self.columns.get(label, {}), **self.events.get(label, {})}

    def fates(self) -> dict[tuple[str, str], Column]:
        """By table and column as PostgreSQL has them, histories included."""
        found: dict[tuple[str, str], Column] = {}
        for model in apps.get_models():
            for field_ in model._meta.local_concrete_fields:
                column = self.columns_of(model).get(field_.name)
                if tracked_by(model) is not None and field_.name.startswith("pgh_"):
                    column = stays("how the row came into the history")
                if column is not None and field_.column:
                    found[model._meta.db_table, field_.column] = column
        return found


def tracked_by(model: type[models.Model]) -> type[models.Model] | None:
    """The model whose history this one is, or None."""
    if not issubclass(model, Event):
        return None
    tracked: type[models.Model] | None = getattr(model, "pgh_tracked_model", None)
    return tracked


def history_of(model: type[models.Model]) -> list[type[models.Model]]:
    """The models in which the history of this one is kept."""
    return [one for one in apps.get_models() if tracked_by(one) is model]


registry = Registry()
Step = Callable[[Person, Any], None]
first_steps: list[Step] = []
"""What must be done while everything is still there, such as putting records under lock; in each app's ready()."""
