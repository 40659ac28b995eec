"""The second lock: the database is told who reads, and gives out no row that person may not have.

The first lock is the gates in code (`visible_to` and the modules named `access`). Should one ever be forgotten,
row-level security still holds, where the service runs as a role that does not own the tables (docs/adr/0020).

Who reads is said in front of every statement, in the same message and the same transaction of the database. Nothing is
left in a session, so a connection that somebody else uses next, also behind a pooler, knows nobody. Who is not
told of reads nothing.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import wraps
from typing import Any, ParamSpec, TypeVar

from django.db import connection, transaction
from django.db.backends.base.base import BaseDatabaseWrapper

Asked = ParamSpec("Asked")
Answer = TypeVar("Answer")

NOBODY = ""
SERVICE = "service"
_reader: ContextVar[str] = ContextVar("who reads", default=NOBODY)

# What reads or changes rows. In front of some others nothing may stand, and a failed transaction takes no other word.
TOLD = ("SELECT", "INSERT", "UPDATE", "DELETE", "WITH", "VALUES", "MERGE", "TABLE")
# Owners and superusers are not held. Without the table nothing is: a database that is only being made.
HELD = """
SELECT EXISTS (
  SELECT FROM pg_class, pg_roles WHERE pg_class.oid = to_regclass('counts_mitesample') AND rolname = current_user
    AND NOT (rolsuper OR rolbypassrls OR pg_has_role(current_user, relowner, 'USAGE'))
)
"""


def reader_is(pk: int | None) -> None:
    """From here to the end of the request: this person reads, or nobody."""
    _reader.set(NOBODY if pk is None else str(int(pk)))


def nobody_reads(**_: Any) -> None:
    """A request begins or ends, or somebody signs out."""
    reader_is(None)


def signed_in_reads(*, user: Any, **_: Any) -> None:
    """Somebody signed in, within this request."""
    reader_is(user.pk)


def reader_is_the_service() -> None:
    """From here on the program itself reads: a command, a task."""
    _reader.set(SERVICE)


@contextmanager
def as_person(pk: int) -> Iterator[None]:
    """This person reads within, whoever did before: whom a feed or a signed link belongs to."""
    with _as(str(int(pk))):
        yield


@contextmanager
def as_the_service() -> Iterator[None]:
    """The program itself reads within: for sums over rows of many keepers, of which a page shows the sum alone."""
    with _as(SERVICE):
        yield


def by_the_service(function: Callable[Asked, Answer]) -> Callable[Asked, Answer]:
    """Decorate what adds up rows of many keepers, or works for the club: the program itself reads within."""

    @wraps(function)
    def wrapped(*args: Asked.args, **kwargs: Asked.kwargs) -> Answer:
        with _as(SERVICE):
            return function(*args, **kwargs)

    return wrapped


@contextmanager
def _as(reader: str) -> Iterator[None]:
    token = _reader.set(reader)
    try:
        yield
    finally:
        _reader.reset(token)


@contextmanager
def told() -> Iterator[None]:
    """A transaction in which the database knows who reads, for what goes past Django's cursors."""
    connection.ensure_connection()
    if not is_held(connection):
        yield
        return
    with transaction.atomic():
        _say(connection)
        yield


def is_held(line: BaseDatabaseWrapper) -> bool:
    """Whether row-level security binds the role of this connection: not an owner's, as in migrations and tests."""
    return bool(getattr(line, "recount_held", False))


def look_at(*, connection: BaseDatabaseWrapper, **_: Any) -> None:
    """Find out whether it is held, and tell it from now on. Called for each new connection, by Django's signal."""
    if connection.vendor != "postgresql":
        return
    row = connection.connection.execute(HELD).fetchone()
    connection.recount_held = bool(row and row[0])  # type: ignore[attr-defined]
    if _tell not in connection.execute_wrappers:
        connection.execute_wrappers.insert(0, _tell)


def _say(line: BaseDatabaseWrapper) -> None:
    line.connection.execute(f"SET LOCAL recount.reader = '{_reader.get()}'")


def _tell(execute: Callable[..., Any], sql: Any, params: Any, many: bool, context: dict[str, Any]) -> Any:
    """Django's hook around each statement (its documentation, "Database instrumentation")."""
    line: BaseDatabaseWrapper = context["connection"]
    if not is_held(line):
        return execute(sql, params, many, context)
    raw = context["cursor"].cursor
    text = sql.decode() if isinstance(sql, bytes) else sql if isinstance(sql, str) else sql.as_string(raw)
    if not text.lstrip(" \n\t(")[:6].upper().startswith(TOLD):
        return execute(text, params, many, context)
    if many or getattr(raw, "name", None):
        # Several messages, or one that the server's cursor writes itself: told of apart, in one transaction.
        with transaction.atomic(using=line.alias):
            _say(line)
            return execute(text, params, many, context)
    result = execute(f"{_words_before(text)}{text}", params, many, context)
    while raw.nextset():  # to the answer of the last statement, which was asked for
        pass
    return result


def _words_before(text: str) -> str:
    # Row history puts words of its own before whatever does not begin with SELECT.
    if text.lstrip(" \n\t(")[:6].upper() == "SELECT":
        return f"SELECT set_config('recount.reader', '{_reader.get()}', true); "
    return f"SET LOCAL recount.reader = '{_reader.get()}'; "
