"""Lines of the log: one a record, in plain words or as JSON, and without what is nobody else's business.

An error's own words may quote whatever somebody typed, so they are left out; its kind, where it came from and what a
database or mail server calls it stay. What else gets into a line is looked through for addresses, tokens, passwords
and places. Only the fields named here are written: what a library hangs onto a record is not.
"""

import json
import logging
import re
import smtplib
import traceback
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

from django.core.exceptions import DisallowedHost, ImproperlyConfigured

from config.log_context import request_id, task_id, task_name

MASK = "…"
NEXT_LINE = " ⏎ "
LONGEST = 2_000  # characters of a message: whatever is longer was not written to be read
FIELDS = ("method", "route", "status", "ms")
"""What a record of a request brings with it."""

_MASKS: tuple[tuple[re.Pattern[str], str], ...] = (
    (
        re.compile(r"(/recount/|/mail/stop/|/mail/later/|/join/|/calendar/|/password/reset/key/)[^/\s\"'?]+"),
        rf"\1{MASK}",
    ),
    (re.compile(r"\brc_[a-z2-7]{8}[a-z2-7]+"), f"rc_{MASK}"),
    (re.compile(r"(\w+://)[^/\s@]+@"), rf"\1{MASK}@"),
    (re.compile(r"[^\s<>\"'(),;:=/\[\]@…]+@[\w-]+(\.[\w-]+)+"), f"{MASK}@{MASK}"),
    (re.compile(r"(?i)\b(bearer|basic)\s+[\w.~+/=-]{8,}"), rf"\1 {MASK}"),
    # As in forms, query strings, JSON and dictionaries.
    (
        re.compile(
            r"(?i)([\w-]*(?:password|passwd|secret|token|cookie|session\w*|login|code|latitude|longitude|\bip))"
            r"([\"']?\s*[=:]\s*)(\"[^\"]*\"|'[^']*'|[^\s,;&)}\]]+)"
        ),
        rf"\1\2{MASK}",
    ),
    # Degrees, but no seconds; a cell of the map.
    (re.compile(r"-?\b\d{1,3}\.\d{3,}(?!\d*s\b)"), MASK),
    (re.compile(r"\b8[0-9a-f]{14}\b"), MASK),
    # Words of chance: keys of sessions, of feeds, of signatures.
    (
        re.compile(r"(?<![\w-])(?=[\w-]*\d)(?=[\w-]*[a-z])(?=[\w-]*[A-Z])[\w-]{24,}(?![\w-])"),
        MASK,
    ),
    # What PostgreSQL quotes of a row.
    (re.compile(r"(DETAIL|CONTEXT|HINT):.*"), rf"\1: {MASK}"),
)


def masked(text: str) -> str:
    """The same text without the words of links, tokens, passwords, addresses and places that got into it."""
    for pattern, instead in _MASKS:
        text = pattern.sub(instead, text)
    return text


def error_lines(error: BaseException) -> list[str]:
    """Where an error came from and of what kind it is, and those it came of; none of what it says about values."""
    lines = []
    for one in reversed(list(_chain(error))):
        lines += [line.rstrip() for line in traceback.format_tb(one.__traceback__)]
        lines.append(": ".join(filter(None, (_kind(one), _known(one)))))
    return [part for line in lines for part in line.splitlines()]


def _chain(error: BaseException) -> Iterator[BaseException]:
    seen: set[int] = set()
    one: BaseException | None = error
    while one is not None and id(one) not in seen:
        seen.add(id(one))
        yield one
        one = one.__cause__ or (None if one.__suppress_context__ else one.__context__)


def _kind(error: BaseException) -> str:
    kind = type(error)
    return kind.__qualname__ if kind.__module__ == "builtins" else f"{kind.__module__}.{kind.__qualname__}"


def _known(error: BaseException) -> str:
    """What may be told of it: names and numbers that others have fixed beforehand."""
    if isinstance(error, ImproperlyConfigured | DisallowedHost):
        return masked(str(error))
    state = getattr(error, "sqlstate", None)
    if state:  # psycopg's
        diag = getattr(error, "diag", None)
        names = (getattr(diag, "table_name", None), getattr(diag, "constraint_name", None))
        return " ".join([str(state), *(str(name) for name in names if name)])
    if isinstance(error, smtplib.SMTPResponseException):
        return str(error.smtp_code)
    if isinstance(error, OSError) and error.errno is not None:
        return f"[Errno {error.errno}]"
    return ""


def message_of(record: logging.LogRecord) -> str:
    """What a record says, masked, with an address of the site replaced by its name."""
    told = record
    if isinstance(record.args, dict) and "exc" in record.args:  # Celery's: an error with all its words
        told = logging.makeLogRecord(record.__dict__)
        told.args = {**record.args, "exc": str(record.args["exc"]).partition("(")[0], "traceback": ""}
    elif record.name.startswith("gunicorn") and str(record.msg).startswith("Error handling request"):
        told = logging.makeLogRecord(record.__dict__)
        told.args = (MASK,) * len(record.args or ())
    request = getattr(record, "request", None)
    path = getattr(request, "path", None)
    if path is not None and isinstance(told.args, tuple):
        told = logging.makeLogRecord(told.__dict__)
        told.args = tuple(route_of(request) if one == path else one for one in told.args or ())
    return masked(told.getMessage()[:LONGEST])


def route_of(request: Any) -> str:
    """The name of the page that was asked for, never its address: that may hold the word of a link."""
    match = getattr(request, "resolver_match", None)
    return str(match.view_name) if match is not None else "none"


class _Records(logging.Formatter):
    """What both forms have in common."""

    def _ids(self, record: logging.LogRecord) -> dict[str, str]:
        # Django says some things of a request when its answer has left the middleware.
        of_request = getattr(getattr(record, "request", None), "recount_id", "")
        ids = {"request": request_id.get() or of_request, "task": task_id.get(), "task_name": task_name.get()}
        return {name: value for name, value in ids.items() if value}

    def _error(self, record: logging.LogRecord) -> list[str]:
        error = record.exc_info[1] if record.exc_info else None
        return [masked(line) for line in error_lines(error)] if error is not None else []

    def formatTime(self, record: logging.LogRecord, datefmt: str | None = None) -> str:  # noqa: N802
        """In UTC, to the millisecond (ISO 8601)."""
        return datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds")


class Line(_Records):
    """One line for each record: when, how grave, on whose behalf, who says what."""

    def format(self, record: logging.LogRecord) -> str:
        ids = " ".join(f"{name}={value}" for name, value in self._ids(record).items())
        head = f"{self.formatTime(record)} {record.levelname} {record.name}"
        said = [*message_of(record).splitlines(), *self._error(record)]
        return " ".join(filter(None, (head, ids, NEXT_LINE.join(said))))


class Json(_Records):
    """One JSON object for each record, for programs that collect logs."""

    def format(self, record: logging.LogRecord) -> str:
        told: dict[str, Any] = {
            "time": self.formatTime(record),
            "level": record.levelname,
            "logger": record.name,
            "message": message_of(record),
            **self._ids(record),
            **{name: getattr(record, name) for name in FIELDS if hasattr(record, name)},
        }
        if record.exc_info and (error := self._error(record)):
            told["error"] = error
        return json.dumps(told, ensure_ascii=False)
