"""Every column that can hold words, an address or a place is listed with what becomes of it when somebody is forgotten.

If this fails because you added a column: list it in `APP/columns_to_forget.py`, and say what becomes of it.
"""

from typing import Any

import pytest
from django.apps import apps
from django.db import connection

from apiaries.forgetting.registry import Fate, registry

WORDS = {
    "text",
    "character varying",
    "character",
    "json",
    "jsonb",
    "bytea",
    "ARRAY",
    "inet",
    "xml",
    "USER-DEFINED",
}
PLACES = ("latitude", "longitude", "lat", "lon", "lng", "location", "place", "geom")


def _columns() -> list[tuple[str, str]]:
    """As PostgreSQL has them, so that no table is left out because no model tells of it."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT table_name, column_name, data_type FROM information_schema.columns"
            " WHERE table_schema = current_schema() ORDER BY 1, 2"
        )
        rows = cursor.fetchall()
    return [(table, column) for table, column, kind in rows if kind in WORDS or column in PLACES]


@pytest.mark.django_db
def test_every_column_of_the_schema_is_listed() -> None:
    fates = registry.fates()
    columns = _columns()

    assert ("apiaries_yardevent", "latitude") in columns and ("django_session", "session_data") in columns
    missing = [one for one in columns if one not in fates and one[0] not in registry.tables]
    assert missing == [], "list them in columns_to_forget.py of their app"


def test_nothing_is_listed_that_is_not_there() -> None:
    for label, columns in registry.columns.items():
        fields = {field.name for field in apps.get_model(label)._meta.get_fields()}
        assert columns.keys() <= fields, label


def test_what_stays_says_why_and_what_goes_says_whose() -> None:
    for label, columns in registry.columns.items():
        for name, column in columns.items():
            if column.fate in (Fate.STAYS, Fate.LOCKED):
                assert column.why, (label, name)
            elif label != "pghistory.Context":  # reached from the histories that point to it
                assert column.whose or column.by_address or column.elsewhere, (label, name)


def test_ways_to_the_person_are_ways() -> None:
    """A way that names no field would be found out only when somebody is forgotten."""
    for label, columns in registry.columns.items():
        for column in columns.values():
            for way in column.whose:
                str(apps.get_model(label)._default_manager.filter(**{way: 1}).query)


@pytest.mark.parametrize("label", ["apiaries.Yard", "treatments.Treatment", "reports.Notice"])
def test_an_unlisted_column_would_be_noticed(label: str, monkeypatch: Any) -> None:
    listed = dict(registry.columns)
    del listed[label]
    monkeypatch.setattr(registry, "columns", listed)
    table = apps.get_model(label)._meta.db_table

    assert not any(found == table for found, _ in registry.fates())
