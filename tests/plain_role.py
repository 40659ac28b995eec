"""A plain role of PostgreSQL, as the service has one in real use, for tests whose own role owns the tables."""

import uuid
from collections.abc import Iterator
from contextlib import contextmanager

from django.db import connection

from config import embedded


def is_superuser() -> bool:
    """Whether the tests' own role is one; the embedded server's is not."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT rolsuper FROM pg_roles WHERE rolname = current_user")
        return bool(cursor.fetchone()[0])


@contextmanager
def open_role() -> Iterator[str]:
    """Its name. On the embedded server, whose role of tests makes none, the administrator makes it."""
    name = f"app_{uuid.uuid4().hex}"
    if is_superuser():
        connection.cursor().execute(f"CREATE ROLE {name}")  # goes with the test's transaction
        yield name
        return
    server = embedded.start_if_embedded()
    assert server, "The role of DATABASE_URL can make no roles: name a superuser's, or leave it out."
    with server.connect("recount_admin", "postgres") as line:
        line.autocommit = True
        line.execute(f"CREATE ROLE {name}")
        line.execute(f"GRANT {name} TO recount_test")
        yield name
        connection.close()  # what the test granted goes with its transaction; then nothing holds the role
        line.execute(f"DROP ROLE {name}")


@contextmanager
def held(role: str) -> Iterator[None]:
    """Everything within is asked by the plain role."""
    with connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        cursor.execute(f"SET ROLE {role}")
        connection.recount_held = True
        try:
            yield
        finally:
            connection.recount_held = False
            cursor.execute("RESET ROLE")
