"""Statements of the ORM that are put together once for a process: from one time to the next only their values change.

For those in front of much-asked pages that are made of many parts: putting together one of three subqueries takes
Django longer than PostgreSQL needs to answer it. They are asked of the primary.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from django.db import connection
from django.db.models import QuerySet

_FIRST = 2**62
"""Stands for the first of the values while the statement is put together; no key is as large."""


@dataclass(frozen=True)
class BuiltOnce:
    """`build` makes a queryset of plain values from keys of these names. What it filters by them must be keys, and
    what it gives must come from PostgreSQL as it is wanted: text, numbers, days, moments.
    Errors: TypeError where it leaves out one of the keys, as a gate would that let everybody through.
    """

    build: Callable[..., "QuerySet[Any, Any]"]
    names: tuple[str, ...] = ()

    def row(self, **keys: int) -> tuple[Any, ...]:
        """The one row that it gives."""
        (row,) = self.rows(**keys)
        return row

    def rows(self, **keys: int) -> list[tuple[Any, ...]]:
        """All that it gives; nothing for a key that no row can have."""
        if any(key >= _FIRST for key in keys.values()):
            return []
        sql, values = self._whole
        with connection.cursor() as cursor:
            cursor.execute(sql, [keys[one.name] if isinstance(one, _Place) else one for one in values])
            return [tuple(row) for row in cursor.fetchall()]

    @cached_property
    def _whole(self) -> tuple[str, list[Any]]:
        stands_for = {_FIRST + number: _Place(name) for number, name in enumerate(self.names)}
        asked = self.build(**{place.name: key for key, place in stands_for.items()})
        sql, values = asked.query.sql_with_params()
        if not stands_for.keys() <= set(values):
            raise TypeError(f"The statement does not ask for each of {', '.join(self.names)}.")
        return sql, [stands_for.get(value, value) for value in values]


@dataclass(frozen=True, slots=True)
class _Place:
    """Where a value goes."""

    name: str
