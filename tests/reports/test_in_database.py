"""What is asked in front of every page, and at every save, stands in the database as the program says it."""

import importlib
import pkgutil
from typing import Any

import pytest
from django.db import connection

import reports.migrations
from apiaries.brought_along import brought_along
from apiaries.drawn_from import yard_drawn_from
from apiaries.in_database import InDatabase
from counts.around import counts_around
from reports.few_months import put_month, sums_of_month


def brought() -> list[InDatabase]:
    """By all migrations."""
    found: list[InDatabase] = []
    for _, name, _ in pkgutil.iter_modules(reports.migrations.__path__):
        found += getattr(importlib.import_module(f"reports.migrations.{name}"), "FUNCTIONS", ())
    return found


@pytest.mark.parametrize(
    "function",
    [brought_along.function, yard_drawn_from.function, counts_around, sums_of_month, put_month],
    ids=lambda one: one.what,
)
def test_a_migration_brings_it(function: InDatabase) -> None:
    """docs/how-to/write-a-migration.md, "A function of the database"."""
    assert function.name in {one.name for one in brought()}, (
        f"A migration is missing that says:\n{function.sql}"
    )


@pytest.mark.django_db
def test_it_is_there_and_of_nobody_else() -> None:
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT proname, prosrc, prosecdef FROM pg_proc WHERE pronamespace = 'public'::regnamespace"
            " AND proname = ANY(%s)",
            ([one.name for one in brought()],),
        )
        there: dict[str, Any] = {name: (body, definer) for name, body, definer in cursor.fetchall()}

    # Asked as whoever asks, so that the second lock holds in it too.
    assert there == {one.name: (one.body, False) for one in brought()}
