"""What answers whoever watches over a host: at its own address, without TLS, whatever is broken."""

import socket
import time
from collections.abc import Iterator
from types import SimpleNamespace
from typing import Any

import pytest
from django.db import connection
from django.test import Client

from config import readiness
from config.readiness import Question, State
from reports.planner import found_paused, plan_notices
from tests.reports.treating import at

DUE = at("08-20", 5)


@pytest.fixture(autouse=True)
def asked_anew() -> Iterator[None]:
    readiness.forget()
    yield
    readiness.forget()


@pytest.fixture
def served(settings: Any) -> None:
    """As on a real service behind a proxy."""
    settings.ALLOWED_HOSTS = ["recount.example.org"]
    settings.SECURE_SSL_REDIRECT = True


def test_life_is_told_without_database_session_host_or_tls(served: None) -> None:
    """No mark of the database here: a query would fail this test."""
    client = Client()
    client.cookies["sessionid"] = "nobody"
    for host in ("127.0.0.1:8000", "10.1.2.3", "other.example.org"):
        answer = client.get("/livez", headers={"host": host})

        assert (answer.status_code, answer.content, answer["Content-Type"]) == (
            200,
            b"ok",
            "text/plain; charset=utf-8",
        )
        assert answer["X-Frame-Options"] == "DENY" and "no-store" in answer["Cache-Control"]
    other = client.get("/yards/", headers={"host": "recount.example.org"})
    assert (other.status_code, other["Location"]) == (301, "https://recount.example.org/yards/")
    assert client.post("/livez", headers={"host": "127.0.0.1"}).status_code == 405


@pytest.mark.django_db(transaction=True)
def test_a_ready_host_tells_names_of_parts_and_no_more(served: None, time_machine: Any) -> None:
    time_machine.move_to(DUE, tick=False)
    plan_notices(at=DUE)
    answer = Client().get("/readyz?whole", headers={"host": "127.0.0.1"})

    assert answer.status_code == 200
    assert answer.json() == {
        "ready": True,
        "parts": {"database": "ok", "migrations": "ok", "tick": "ok", "broker": "not needed"},
    }

    time_machine.move_to(DUE + readiness.TICK_LATE, tick=False)
    readiness.forget()
    assert Client().get("/readyz?whole", headers={"host": "127.0.0.1"}).status_code == 200
    time_machine.move_to(DUE + readiness.TICK_LATE * 1.01, tick=False)
    readiness.forget()
    late = Client().get("/readyz?whole", headers={"host": "127.0.0.1"})
    assert (late.status_code, late.json()["parts"]["tick"]) == (503, "not ok")
    of_the_host = Client().get("/readyz", headers={"host": "127.0.0.1"})
    assert (of_the_host.status_code, of_the_host.json()["ready"]) == (200, True)
    found_paused(at=DUE + readiness.TICK_LATE)
    readiness.forget()
    paused = Client().get("/readyz?whole", headers={"host": "127.0.0.1"})
    assert paused.json()["parts"]["tick"] == "ok", "nothing was planned on purpose: a worker is there"


@pytest.mark.django_db(transaction=True)
@pytest.mark.owner
def test_a_release_that_is_not_migrated_is_not_ready() -> None:
    with connection.cursor() as cursor:
        cursor.execute("UPDATE django_migrations SET name = name || '_later' WHERE app = 'reports'")
    try:
        answer = Client().get("/readyz")
    finally:
        with connection.cursor() as cursor:
            cursor.execute(
                "UPDATE django_migrations SET name = left(name, -6) WHERE name LIKE '%_later' AND app = 'reports'"
            )

    assert (answer.status_code, answer.json()["parts"]["migrations"]) == (503, "not ok")


@pytest.fixture
def mute() -> Iterator[int]:
    """A port that takes every line and says nothing, as behind a wall."""
    with socket.create_server(("127.0.0.1", 0)) as listener:
        yield listener.getsockname()[1]


def test_a_database_that_says_nothing_is_not_waited_for(mute: int, monkeypatch: pytest.MonkeyPatch) -> None:
    params = {"host": "127.0.0.1", "port": mute, "user": "recount", "dbname": "recount"}
    monkeypatch.setattr(readiness, "connection", SimpleNamespace(get_connection_params=lambda: params))
    monkeypatch.setattr(readiness, "PATIENCE", 1.0)
    answer = Client().get("/readyz")

    assert answer.status_code == 503
    assert answer.json()["parts"] | {"broker": ""} == dict.fromkeys(
        ("database", "migrations", "tick"), "not ok"
    ) | {"broker": ""}


@pytest.mark.parametrize("scheme", ["redis", "amqp"])
def test_a_broker_that_says_nothing_is_not_waited_for(
    mute: int, monkeypatch: pytest.MonkeyPatch, scheme: str
) -> None:
    from celery import Celery

    monkeypatch.setattr(readiness, "EMBEDDED", False)
    monkeypatch.setattr(readiness, "PATIENCE", 1.0)
    there = Celery("elsewhere", broker=f"{scheme}://127.0.0.1:{mute}//", set_as_current=False)
    monkeypatch.setattr(readiness, "app", there)
    question = Question(readiness._broker, {"broker": State.NOT_OK})

    question.begin()

    assert question.answer(time.monotonic() + 20) == {"broker": State.NOT_OK}
    assert question.found, "it ended by its own time-outs, and not by being left"


def test_what_hangs_is_left_and_not_asked_twice() -> None:
    begun: list[int] = []

    def hangs() -> dict[str, State]:
        begun.append(1)
        time.sleep(60)
        return {}

    question = Question(hangs, {"database": State.NOT_OK})
    for _ in range(3):
        question.begin()
        assert question.answer(time.monotonic() + 0.05) == {"database": State.NOT_OK}

    assert begun == [1]


def test_many_visitors_cost_one_question(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[int] = []

    def ask() -> dict[str, State]:
        asked.append(1)
        return {"database": State.OK, "migrations": State.OK}

    monkeypatch.setattr(readiness, "QUESTIONS", (Question(ask, {}),))
    for _ in range(5):
        assert Client().get("/readyz").status_code == 200

    assert asked == [1]
