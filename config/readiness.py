"""Whether this host can answer, and whether the parts that work by themselves do. Asked with little patience.

Each question is asked by a thread of its own: a database or broker behind a cut line lets nobody wait for longer than
that, whatever the libraries' time-outs are. What was found is kept for some seconds, so that an open address costs
nobody a connection for each visitor.
"""

import datetime as dt
import logging
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cache
from importlib import import_module
from pkgutil import iter_modules
from typing import Any

import psycopg
from celery.exceptions import OperationalError as BrokerError
from django.apps import apps
from django.db import connection
from django.utils import timezone
from kombu.exceptions import KombuError

from config.celery import EMBEDDED, app
from reports.planner import PAUSED, PLANNER

logger = logging.getLogger(__name__)

PATIENCE = 3.0  # seconds for each question; a health check of a container mostly gives five (our choice)
KEPT = 5.0  # seconds
TICK_LATE = dt.timedelta(minutes=35)
"""Since the last tick: it comes each 15 minutes, so that two were missed (our choice)."""
OF_THIS_HOST = ("database", "migrations")
"""Without these it answers nobody. The others stand still for all hosts at once, and pages go on without them."""


class State(StrEnum):
    """Of one part."""

    OK = "ok"
    NOT_OK = "not ok"
    NOT_NEEDED = "not needed"


Parts = dict[str, State]


@dataclass
class Question:
    """What is asked of one neighbour; asked once at a time, even while an earlier thread still hangs on it."""

    ask: Callable[[], Parts]
    otherwise: Parts
    thread: threading.Thread | None = None
    found: Parts = field(default_factory=dict)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def begin(self) -> None:
        with self.lock:
            if self.thread is None or not self.thread.is_alive():
                self.found = {}
                self.thread = threading.Thread(target=self._run, daemon=True)
                self.thread.start()

    def answer(self, until: float) -> Parts:
        """What was found by then, in `time.monotonic` seconds."""
        if self.thread is not None:
            self.thread.join(max(0.0, until - time.monotonic()))
        return self.found or self.otherwise

    def _run(self) -> None:
        try:
            self.found = self.ask()
        except Exception as error:  # noqa: BLE001  (whatever it is, the part does not answer)
            logger.warning("not ready: %s, %s", ", ".join(self.otherwise), type(error).__name__)


def parts() -> Parts:
    """The state of each part, at most some seconds old."""
    if _kept.found and time.monotonic() < _kept.until:
        return _kept.found
    for question in QUESTIONS:
        question.begin()
    until, found = time.monotonic() + PATIENCE, Parts()
    for question in QUESTIONS:
        found |= question.answer(until)
    _kept.found, _kept.until = found, time.monotonic() + KEPT
    return found


def forget() -> None:
    """Ask anew the next time."""
    _kept.until = 0.0


@dataclass
class _Kept:
    found: Parts = field(default_factory=dict)
    until: float = 0.0


_kept = _Kept()


def _database() -> Parts:
    """A line of its own: the request's may be one that was opened before the database went away."""
    # Not as start-up options: a pooler refuses those.
    asked: dict[str, Any] = connection.get_connection_params() | {"connect_timeout": int(PATIENCE)}
    with psycopg.connect(**asked) as line, line.cursor() as cursor:
        cursor.execute(f"SET LOCAL statement_timeout = {int(PATIENCE * 1000)}")
        try:
            cursor.execute("SELECT app, name FROM django_migrations")
            missing = _on_disk() - {(row[0], row[1]) for row in cursor.fetchall()}
            cursor.execute("SELECT max(at) FROM reports_heartbeat WHERE name = ANY(%s)", [[PLANNER, PAUSED]])
            row = cursor.fetchone()
        except psycopg.errors.UndefinedTable:
            return {"database": State.OK, "migrations": State.NOT_OK, "tick": State.NOT_OK}
    ticked = row is not None and row[0] is not None and timezone.now() - row[0] <= TICK_LATE
    return {"database": State.OK, "migrations": _state(not missing), "tick": _state(ticked)}


@cache
def _on_disk() -> frozenset[tuple[str, str]]:
    """Names of this release's migrations; those of a newer one that the database has as well do no harm."""
    found = set()
    for config in apps.get_app_configs():
        try:
            folder = import_module(f"{config.name}.migrations")
        except ModuleNotFoundError:
            continue
        # One app has a module of that name, and no folder.
        found |= {(config.label, one.name) for one in iter_modules(getattr(folder, "__path__", ()))}
    return frozenset(found)


def _broker() -> Parts:
    if EMBEDDED:  # files on this machine, or a service whose tick is run by cron
        return {"broker": State.NOT_NEEDED}
    seconds = int(PATIENCE)
    by_kind: dict[str, dict[str, Any]] = {
        "redis": {"socket_timeout": seconds, "socket_connect_timeout": seconds},
        "amqp": {"read_timeout": seconds, "write_timeout": seconds},
    }
    line = app.connection_for_write(
        connect_timeout=seconds, transport_options=by_kind.get(app.connection().transport.driver_type, {})
    )
    try:
        with line:
            line.ensure_connection(max_retries=1, interval_start=0, timeout=PATIENCE)
            line.default_channel.close()
    except (OSError, KombuError, BrokerError, *line.connection_errors, *line.channel_errors):
        return {"broker": State.NOT_OK}
    return {"broker": State.OK}


def _state(fine: bool) -> State:
    return State.OK if fine else State.NOT_OK


QUESTIONS = (
    Question(_database, dict.fromkeys(("database", "migrations", "tick"), State.NOT_OK)),
    Question(_broker, {"broker": State.NOT_OK}),
)
