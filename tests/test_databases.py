"""Tables that are copied are those that migrations make, and a test leaves them empty."""

from collections.abc import Iterator
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection

from tests import databases, emptying
from tests.cast import make_cast
from tests.databases import new_database, on, outside, tables_into, with_tables
from tests.dropping import drop_database
from tests.reports.treating import treated

pytestmark = pytest.mark.slow


@pytest.fixture
def beside(django_db_setup: None, django_db_blocker: Any) -> Iterator[str]:
    """A name for a database beside that of the tests, which may be asked."""
    with django_db_blocker.unblock():
        yield f"{connection.settings_dict['NAME']}_beside"


def _written_down(name: str) -> list[str]:
    """Every object and every row; not the words of conditions, which PostgreSQL puts its own way each time."""
    done = databases._run("pg_dump", [], databases._place(name))
    assert done.returncode == 0, done.stderr
    return [
        line for line in done.stdout.decode().splitlines() if line.startswith("-- Name: ") or "\t" in line
    ]


def test_a_copy_leaves_nothing_to_migrate(beside: str) -> None:
    with new_database(beside, with_tables()), on(beside):
        call_command("migrate", check_unapplied=True, verbosity=0)  # ends the process if there is


def test_what_is_put_into_another_server_is_the_same(beside: str) -> None:
    with new_database(beside):
        tables_into(databases._place(beside))
        there = _written_down(beside)

    assert there == _written_down(with_tables())
    assert sum("; Type: TABLE;" in line for line in there) > 80


def test_tables_are_made_again_only_when_they_are_made_of_something_else(
    beside: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    made: list[str] = []
    monkeypatch.setattr(databases, "TABLES", beside)
    monkeypatch.setattr(databases, "call_command", lambda *_, **__: made.append(databases._made_of()))
    with_tables()
    with_tables()
    first = databases._made_of()
    monkeypatch.setattr(databases, "_made_of", lambda: "something else")
    with_tables()
    with_tables()
    with outside() as server:
        drop_database(server, beside)

    assert made == [first, "something else"]


def _rows() -> dict[str, int]:
    names = connection.introspection.django_table_names(only_existing=True, include_views=False)
    with connection.cursor() as cursor:
        cursor.execute(" UNION ALL ".join(f"SELECT '{name}', count(*) FROM {name}" for name in names))
        return dict(cursor.fetchall())


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("large", [2**20, 0], ids=["rows are taken out", "tables are cut off"])
def test_nothing_is_left_after_a_test_with_transactions(large: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(emptying, "LARGE", large)
    cast = make_cast()
    call_command("load_reference", verbosity=0)
    treated(cast.colonies[:2])
    kept = _rows()
    assert kept["treatments_medicinelink"] and kept["apiaries_yardevent"] and kept["auth_permission"]

    call_command("flush", interactive=False, reset_sequences=False, verbosity=0)

    assert {name for name, number in _rows().items() if number} == emptying.KEPT
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM pg_trigger WHERE tgenabled <> 'O'")
        assert cursor.fetchone() == (0,)
