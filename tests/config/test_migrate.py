"""`migrate` while others work: it gives way, comes back, and gives up with a sentence."""

import threading
from collections.abc import Iterator
from typing import Any

import psycopg
import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder
from django.test import override_settings

from config.management.commands import migrate

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.slow]
TRIED = "tests.config.tried_app"


@pytest.fixture
def tried(settings: Any) -> Iterator[None]:
    """An app with a table, and a second migration that has to lock it."""
    with override_settings(INSTALLED_APPS=[*settings.INSTALLED_APPS, TRIED]):
        call_command("migrate", "tried_app", "0001", verbosity=0)
        yield
        with connection.cursor() as cursor:
            cursor.execute("DROP TABLE tried")
        MigrationRecorder(connection).migration_qs.filter(app="tried_app").delete()


@pytest.fixture
def other() -> Iterator[psycopg.Connection]:
    """Somebody else at the same database."""
    with psycopg.connect(**connection.get_connection_params() | {"cursor_factory": None}) as session:
        yield session


@pytest.fixture
def reading(other: psycopg.Connection) -> psycopg.Connection:
    """Somebody who has read the table and not ended their transaction."""
    other.execute("SELECT count(*) FROM tried")
    return other


def _columns() -> set[str]:
    with connection.cursor() as cursor:
        return {one.name for one in connection.introspection.get_table_description(cursor, "tried")}


def test_held_lock_ends_it_with_a_clear_sentence_and_nothing_half(
    tried: None, reading: psycopg.Connection, monkeypatch: pytest.MonkeyPatch
) -> None:
    paused: list[float] = []
    monkeypatch.setattr(migrate.time, "sleep", paused.append)

    with pytest.raises(
        CommandError, match=r"longer than 0\.1 s, 3 times.*quieter minute.*pid \d+\) for \d+ s"
    ):
        call_command("migrate", "tried_app", lock_seconds=0.1, tries=3, verbosity=0)

    assert paused == [1, 2]
    assert "noted" not in _columns()


def test_others_write_while_it_tries(
    tried: None, reading: psycopg.Connection, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Between its tries somebody writes; Django's own would wait, and the writer behind it."""
    written: list[int] = []

    def write(seconds: float) -> None:
        with psycopg.connect(**connection.get_connection_params() | {"cursor_factory": None}) as writer:
            writer.execute("SET lock_timeout = '10s'")
            written.append(writer.execute("INSERT INTO tried (mites) VALUES (1)").rowcount)

    monkeypatch.setattr(migrate.time, "sleep", write)
    with pytest.raises(CommandError):
        call_command("migrate", "tried_app", lock_seconds=0.1, tries=3, verbosity=0)

    assert written == [1, 1]


def test_it_comes_through_when_the_lock_is_gone(
    tried: None, reading: psycopg.Connection, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(migrate.time, "sleep", lambda seconds: reading.rollback())

    call_command("migrate", "tried_app", lock_seconds=0.1, tries=2, verbosity=0)

    assert "noted" in _columns()


def test_building_concurrently_is_not_cut_off(tried: None, reading: psycopg.Connection) -> None:
    """It waits for the reader as long as that takes, with writers passing; cut off, it would leave a broken index."""
    call_command("migrate", "tried_app", "0002", fake=True, verbosity=0)
    reading.execute("INSERT INTO tried (mites) VALUES (2)")  # a transaction that the build has to wait for
    waiting = threading.Event()

    def let_go() -> None:
        with psycopg.connect(
            **connection.get_connection_params() | {"cursor_factory": None}, autocommit=True
        ) as watcher:
            while not watcher.execute(
                "SELECT 1 FROM pg_stat_activity WHERE query LIKE 'CREATE INDEX CONCURRENTLY%' "
                "AND wait_event_type = 'Lock' AND clock_timestamp() - query_start > interval '0.3 s'"
            ).fetchone():
                pass
        waiting.set()
        reading.rollback()

    thread = threading.Thread(target=let_go)
    thread.start()
    call_command("migrate", "tried_app", "0003", lock_seconds=0.1, tries=1, verbosity=0)
    thread.join()

    assert waiting.is_set()
    with connection.cursor() as cursor:
        cursor.execute("SELECT indisvalid FROM pg_index WHERE indexrelid = 'tried_mites'::regclass")
        assert cursor.fetchone() == (True,)


def test_session_is_given_back_as_it_was(tried: None) -> None:
    with connection.cursor() as cursor:
        cursor.execute("SHOW lock_timeout")
        before = cursor.fetchone()
        call_command("migrate", "tried_app", "0002", lock_seconds=0.5, verbosity=0)
        cursor.execute("SHOW lock_timeout")
        assert cursor.fetchone() == before


@pytest.mark.parametrize("odd", [{"lock_seconds": 0}, {"lock_seconds": 61}, {"tries": 0}])
def test_odd_options_are_refused(odd: dict[str, float]) -> None:
    with pytest.raises(CommandError, match="at least 1"):
        call_command("migrate", verbosity=0, **odd)
