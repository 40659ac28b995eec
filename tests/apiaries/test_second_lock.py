"""How the database is told who reads: with every statement, and nothing of it stays. Policies: tests/access."""

import threading
from collections.abc import Iterator
from typing import Any

import pghistory
import pytest
from django.db import DatabaseError, connection, connections, transaction
from django.http import HttpRequest, HttpResponse
from django.test import Client
from django.urls import reverse

from apiaries import second_lock
from apiaries.models import Person
from apiaries.second_lock import as_person, as_the_service, by_the_service, told
from config import middleware
from config.celery import app
from tests.cast import Cast

WHO = "current_setting('recount.reader', true)"


@pytest.fixture
def line(db: None) -> Iterator[Any]:
    """A connection of its own outside any transaction, held as the service's role is, in the place of the usual one."""
    usual, own = connections["default"], connections.create_connection("default")
    connections["default"] = own
    try:
        own.ensure_connection()
        own.recount_held = True
        yield own
    finally:
        connections["default"] = usual
        own.close()


def _asked(line: Any, query: str = f"SELECT {WHO}", parameters: Any = None) -> Any:
    with line.cursor() as cursor:
        cursor.execute(query, parameters)
        return cursor.fetchone()[0]


def _left(line: Any) -> str:
    """What the next one to use this session would find, told by nobody."""
    return line.connection.execute(f"SELECT {WHO}").fetchone()[0] or ""


@pytest.mark.parametrize(
    "query", [f"SELECT {WHO}", f"VALUES ({WHO})", f"WITH w AS (SELECT {WHO}) SELECT * FROM w"]
)
@pytest.mark.owner
def test_each_statement_says_who_reads_and_leaves_nothing(line: Any, query: str) -> None:
    with as_person(7):
        assert _asked(line, query) == "7"
        assert _left(line) == ""
        with as_the_service():
            assert _asked(line, query) == "service"
        assert _asked(line, query) == "7"
    assert _asked(line, query) == ""


@pytest.mark.owner
def test_in_a_transaction_the_last_word_counts(line: Any) -> None:
    with transaction.atomic():
        with as_person(7):
            assert _asked(line) == "7"
            with pytest.raises(DatabaseError), transaction.atomic():
                _asked(line, "SELECT 1 / %s", [0])
            assert _asked(line) == "7"
        assert _asked(line) == "", "whoever reads next in it is not the one before"
        with as_person(8), told():
            assert line.connection.execute(f"SELECT {WHO}").fetchone() == ("8",)
    assert _left(line) == ""


def test_answers_are_those_of_the_statement_that_was_asked(line: Any) -> None:
    with as_person(7), line.cursor() as cursor:
        cursor.execute("CREATE TEMPORARY TABLE tried (n int, who text)")
        cursor.execute(f"INSERT INTO tried VALUES (%s, {WHO}) RETURNING n", [1])
        assert cursor.fetchall() == [(1,)]
        cursor.executemany(f"INSERT INTO tried VALUES (%s, {WHO})", [(2,), (3,)])
        cursor.execute("UPDATE tried SET n = n + 1 WHERE n > %(least)s", {"least": 1})
        assert cursor.rowcount == 2
        cursor.execute("SELECT n, who FROM tried ORDER BY n")
        assert [column.name for column in cursor.description] == ["n", "who"]
        assert cursor.fetchall() == [(1, "7"), (3, "7"), (4, "7")]
    with as_person(8), line.chunked_cursor() as cursor:  # the server's own cursor, as of .iterator()
        cursor.execute(f"SELECT n, {WHO} FROM tried ORDER BY n")
        assert cursor.fetchmany(2) == [(1, "8"), (3, "8")]
    assert _left(line) == ""


def test_row_history_keeps_its_own_words(line: Any) -> None:
    context = "current_setting('pghistory.context_metadata', true)::json ->> 'verb'"
    with as_person(7), pghistory.context(verb="tried"), line.cursor() as cursor:
        cursor.execute("CREATE TEMPORARY TABLE tried (who text, verb text)")
        cursor.execute(f"INSERT INTO tried VALUES ({WHO}, {context}) RETURNING who, verb")
        assert cursor.fetchall() == [("7", "tried")]


@pytest.mark.owner
def test_whom_the_database_does_not_hold_it_is_not_told(db: None) -> None:
    assert not second_lock.is_held(connection), "the tests' role owns the tables"
    with as_person(7):
        assert not _asked(connection)


def test_another_thread_reads_nothing(line: Any) -> None:
    found = []
    with as_person(7):
        thread = threading.Thread(target=lambda: found.append(second_lock._reader.get()))
        thread.start()
        thread.join()
    assert found == [""]


@pytest.mark.owner
def test_a_page_is_read_by_who_is_signed_in(
    cast: Cast, client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[str] = []
    plain = middleware.own_language

    def noted(request: HttpRequest) -> HttpResponse:
        seen.append(second_lock._reader.get())
        return HttpResponse()

    answer = middleware.tells_who_reads(noted)
    for user in (cast.alice, Person(), cast.bob):
        request = HttpRequest()
        request.user = user  # type: ignore[assignment]
        answer(request)
        second_lock.nobody_reads()
        assert second_lock._reader.get() == ""
    assert seen == [str(cast.alice.pk), "", str(cast.bob.pk)] and plain
    client.force_login(cast.alice)
    assert client.get(reverse("apiaries:yard-list")).status_code == 200
    assert second_lock._reader.get() == "", "it ends with the request"


@pytest.mark.owner
def test_tasks_are_the_services_doing(db: None) -> None:
    @app.task(name="tests.who_reads")
    def who_reads() -> str:
        return second_lock._reader.get()

    assert who_reads() == who_reads.apply().get() == "service"
    assert by_the_service(lambda: second_lock._reader.get())() == "service"
    assert second_lock._reader.get() == ""
