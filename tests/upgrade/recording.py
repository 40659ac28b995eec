"""What a release says to its database, as whole statements, to be said again to a newer schema."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

import pytest
from django.db import connection
from django.db.backends.postgresql import base

FAR = 1_000_000
"""Keys made while recording begin here, so that rows which a migration adds get none of them."""
SEQUENCES = "SELECT format('%I', sequencename) FROM pg_sequences WHERE schemaname = 'public' ORDER BY 1"
VALUES = re.compile(r"E?'(?:[^']|'')*'(?:::\w+)?|\b\d+(?:\.\d+)?\b")


@dataclass
class Recorder:
    """Statements in their order, each with its number of rows; a COPY with its bytes, in hexadecimal.

    A read of a known shape is told once.
    """

    said: list[tuple[str, int | str]] = field(default_factory=list)
    shapes: set[str] = field(default_factory=set)

    def note(self, statement: str, rows: int) -> None:
        if statement.startswith("SET TRANSACTION"):
            return  # of a whole transaction, and said again it is inside of one
        shape = re.sub(r"(?:\?(?:, )?)+", "?", VALUES.sub("?", statement))
        reads = statement.lstrip("( ").upper().startswith("SELECT") and "set_config" not in statement
        if reads and shape in self.shapes:
            return
        self.shapes.add(shape)
        self.said.append((statement, rows))


def move_keys() -> None:
    """The next row of each table gets a key far off."""
    with connection.cursor() as cursor:
        cursor.execute(SEQUENCES)
        for (name,) in cursor.fetchall():
            cursor.execute("SELECT setval(%s::regclass, %s)", [name, FAR])


@contextmanager
def recorded(recorder: Recorder) -> Iterator[None]:
    """Everything that Django sends through its usual cursor meanwhile, with its values in it."""
    execute, executemany, copy = base.Cursor.execute, base.Cursor.executemany, base.Cursor.copy

    def one(self: Any, query: Any, params: Any = None, **more: Any) -> Any:
        statement = self.mogrify(query, params)  # before: it would take the rows away
        done = execute(self, query, params, **more)
        recorder.note(statement, self.rowcount)
        return done

    @contextmanager
    def copied(self: Any, statement: Any, *rest: Any, **more: Any) -> Iterator[Any]:
        data: list[bytes] = []
        with copy(self, statement, *rest, **more) as writer:
            write = writer.write

            def noted(part: Any) -> None:
                data.append(part.encode() if isinstance(part, str) else bytes(part))
                write(part)

            writer.write = noted
            yield writer
        recorder.said.append((statement, b"".join(data).hex()))

    def many(self: Any, query: Any, params_seq: Any, **more: Any) -> Any:
        rows = list(params_seq)
        statements = [self.mogrify(query, params) for params in rows]
        done = executemany(self, query, rows, **more)
        for statement in statements:
            recorder.note(statement, 1)
        return done

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(base.Cursor, "execute", one, raising=False)
        patch.setattr(base.Cursor, "executemany", many, raising=False)
        patch.setattr(base.Cursor, "copy", copied, raising=False)
        yield


def say_again(statement: str, what: int | str) -> int | str:
    """The same from the old release's mouth: how many rows now; of a COPY, what was written."""
    with connection.connection.cursor() as cursor:
        if isinstance(what, int):
            cursor.execute(statement)
            return int(cursor.rowcount)
        with cursor.copy(statement) as writer:
            writer.write(bytes.fromhex(what))
        return what
