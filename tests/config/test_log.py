"""The log as a real service writes it: what stands in a line, and what never does."""

import io
import json
import logging
import logging.config
import re
from collections.abc import Iterator
from typing import Any

import pytest
from celery import Celery
from celery.contrib.testing.worker import start_worker
from django.core.exceptions import ImproperlyConfigured
from django.db import IntegrityError, connection
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from apiaries.actions.tokens import make_token
from apiaries.line import Line, Outage, Refused
from config.log_context import request_id, task_id
from config.log_settings import logging_settings
from reports import tasks, today_views
from reports.models import Digest
from reports.planner import plan_notices
from reports.sender import send_due
from tests.reports.treating import at, treated

DUE = at("08-20", 5)
PRIVATE = ("alice@example.org", "example.org", "honey-bees-7", "52.51631", "13.37771", "WzEsMl0", "garden")
"""Typed by people, or opening something; the tests below put each into the way of the log."""
WORDS = f"alice@example.org password=honey-bees-7 52.51631,13.37771 WzEsMl0 {'garden'}"


@pytest.fixture(params=["json", "line"])
def log(request: Any, monkeypatch: pytest.MonkeyPatch) -> Iterator[io.StringIO]:
    """What the handler of LOGGING writes, at a real service's level."""
    monkeypatch.setenv("LOG_FORMAT", request.param)
    made, stream = logging_settings(served=True), io.StringIO()
    made["handlers"]["console"] |= {"stream": stream}
    configurator: Any = logging.config.DictConfigurator(made)  # type: ignore[attr-defined]
    formatters = {name: configurator.configure_formatter(one) for name, one in made["formatters"].items()}
    handler = logging.StreamHandler(stream)
    handler.setFormatter(formatters[made["handlers"]["console"]["formatter"]])
    root = logging.getLogger()
    level = root.level
    root.addHandler(handler)
    root.setLevel(made["root"]["level"])
    yield stream
    root.removeHandler(handler)
    root.setLevel(level)


def _said(log: io.StringIO, *wanted: str) -> str:
    """All of it: each record on a line of its own, with what is wanted and nothing private."""
    said = log.getvalue()
    for word in wanted:
        assert word in said, word
    for word in PRIVATE:
        assert word not in said, word
    for line in said.splitlines():
        stamp = json.loads(line)["time"] if line.startswith("{") else line.split()[0]
        assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}\+00:00", stamp), line
    return said


def _raise(*_: Any, **__: Any) -> Any:
    try:
        raise KeyError(WORDS)
    except KeyError as error:
        raise ValueError(f"cannot read {WORDS}") from error


@pytest.mark.django_db
def test_a_page_and_a_refused_link(log: io.StringIO, cast: Any, client_for: Any) -> None:
    client = client_for(cast.alice)
    log.truncate(log.seek(0))  # that she signed in: here without a request
    answer = client.get(reverse("reports:today") + "?place=52.51631&email=alice@example.org")
    client.get("/recount/WzEsMl0:secret/")
    client.get("/garden/")

    said = _said(log, "GET reports:today 200 in ", "GET reports:recount-entry 404 in ", "GET none 404 in ")
    assert answer["X-Request-ID"] in said and "secret" not in said
    assert "Not Found: reports:recount-entry" in said and "Not Found: none" in said
    ids = [re.search(r'request(?:=|": ")([0-9a-f]{16})', line) for line in said.splitlines()]
    assert all(ids), "each line says of which request it is, also what Django says at the end"


@pytest.mark.django_db
def test_a_page_that_fails(
    log: io.StringIO, cast: Any, client_for: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(today_views, "render", _raise)
    client = client_for(cast.alice)
    client.raise_request_exception = False
    answer = client.get(reverse("reports:today") + f"?q={WORDS}", headers={"X-Request-ID": "proxy-0001"})

    assert (answer.status_code, answer["X-Request-ID"]) == (500, "proxy-0001")
    said = _said(log, "Internal Server Error: reports:today", "proxy-0001", "ValueError", "KeyError")
    assert "in _raise" in said, "where it happened is told"


@pytest.mark.django_db
def test_signing_in_with_a_wrong_password(log: io.StringIO, cast: Any) -> None:
    typed = {"login": "alice@example.org", "password": "honey-bees-7"}
    assert Client().post(reverse("account_login"), typed).status_code == 200

    _said(log, "POST account_login 200 in ")


@pytest.mark.django_db
def test_a_program_with_its_token(log: io.StringIO, cast: Any) -> None:
    _, word = make_token(
        person=cast.alice, name="garden", scopes=["yards:read"], days=30, at=timezone.now(), by=cast.alice
    )
    client = Client(headers={"Authorization": f"Bearer {word}"})
    assert client.get(reverse("api:yard-list")).status_code == 200
    wrong = Client(headers={"Authorization": f"Bearer {word}x"})
    assert wrong.get(reverse("api:yard-list")).status_code == 401

    assert word not in _said(log, "GET api:yard-list 200 in ", "GET api:yard-list 401 in ")


@pytest.mark.django_db
@pytest.mark.parametrize(
    "error",
    [
        Outage("alice@example.org: no route; password=honey-bees-7"),
        Refused(550, "5.1.1 <alice@example.org> no such mailbox", address=True),
        ValueError(WORDS),
    ],
    ids=["outage", "refused", "broken"],
)
def test_a_mail_that_fails(
    log: io.StringIO, cast: Any, reference: None, monkeypatch: pytest.MonkeyPatch, error: Exception
) -> None:
    treated(cast.colonies[:2])
    plan_notices(at=DUE)
    monkeypatch.setattr(Line, "hand_over", _thrower(error))
    if isinstance(error, ValueError):
        monkeypatch.setattr("reports.sender.digest_mail", _thrower(error))
    send_due(at=DUE)

    wanted = {
        Outage: ["no mail can be sent", "…@…"],
        ValueError: [f"mail {Digest.objects.get().pk} cannot be written", "ValueError"],
    }
    _said(log, *wanted.get(type(error), []))


def _thrower(error: Exception) -> Any:
    def throw(*line: Any, **_: Any) -> Any:
        if isinstance(line[0], Line):
            line[0].trouble = str(error)
        raise error

    return throw


@pytest.mark.django_db
def test_a_task_that_fails(log: io.StringIO, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tasks, "plan_notices", _raise)
    number = tasks.wake_notices.apply().id

    _said(log, f"reports.tasks.wake_notices[{number}]", "ValueError", "in _raise")
    assert (task_id.get(), request_id.get()) == ("", "")


@pytest.mark.django_db
def test_what_the_database_quotes_of_a_row(log: io.StringIO, cast: Any) -> None:
    try:
        with connection.cursor() as cursor:
            cursor.execute("UPDATE apiaries_person SET email = 'alice@example.org'")
    except IntegrityError:
        logging.getLogger("recount").exception("it failed")

    _said(log, "django.db.utils.IntegrityError", "psycopg.errors.UniqueViolation: 23505 apiaries_person")


def test_a_record_stays_on_its_line_and_brings_no_more_than_is_named(log: io.StringIO) -> None:
    forged = "odd\n2026-01-01T00:00:00.000+00:00 ERROR recount forged"
    logging.getLogger("recount").warning("%s", forged, extra={"data": WORDS, "garden": WORDS})

    assert len(_said(log, "odd").splitlines()) == 1


@pytest.mark.parametrize(
    "sent", ["", "short", "x" * 65, "a b c d e f", "alice@example.org", "52.516311", "rc_é1234567"]
)
def test_an_odd_id_of_a_request_is_not_taken_over(sent: str) -> None:
    given = Client().get("/livez", headers={"X-Request-ID": sent})["X-Request-ID"]

    assert re.fullmatch("[0-9a-f]{16}", given)


def test_a_task_knows_the_request_that_sent_it() -> None:
    there = Celery("memory", broker="memory://", set_as_current=False, fixups=[])
    seen: list[tuple[str, str]] = []

    @there.task(name="memory.note", shared=False)
    def note() -> None:
        seen.append((request_id.get(), task_id.get()))

    with start_worker(there, pool="solo", perform_ping_check=False) as _:
        held = request_id.set("request-0001")
        first = note.delay().id
        request_id.reset(held)
        second = note.delay().id
        _until(lambda: len(seen) == 2)

    assert seen == [("request-0001", first), ("", second)]


def _until(done: Any) -> None:
    import time

    until = time.monotonic() + 20
    while not done() and time.monotonic() < until:
        time.sleep(0.02)


@pytest.mark.parametrize(("name", "value"), [("LOG_FORMAT", "xml"), ("LOG_LEVEL", "loud")])
def test_odd_settings_stop_the_start(name: str, value: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(name, value)
    with pytest.raises(ImproperlyConfigured, match=f"{name} is .*: say one of"):
        logging_settings(served=True)


def test_workers_keep_to_our_log() -> None:
    from celery.signals import setup_logging

    assert setup_logging.receivers, "or Celery writes errors with all their words"


def test_a_long_message_is_cut(log: io.StringIO) -> None:
    logging.getLogger("recount").warning("x" * 100_000)

    assert len(_said(log, "xxx")) < 2_500
