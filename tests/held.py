"""Whole suites under the second lock: RECOUNT_HELD=1 lets every test run as a plain role that row-level security holds.

What a test does by itself is the service's doing; what it asks of a page, the signed-in person's.
"""

import os
from typing import Any

from django.core.signals import request_finished
from django.db.backends.signals import connection_created

from apiaries.second_lock import reader_is_the_service

ROLE = "recount_held"
WANTED = bool(os.environ.get("RECOUNT_HELD"))


def make_role(connection: Any) -> None:
    """Once for a database that was made for tests; asks for a superuser, who alone may become any role."""
    from config.grants import grant

    with connection.cursor() as cursor:
        cursor.execute("SELECT FROM pg_roles WHERE rolname = %s", [ROLE])
        if not cursor.rowcount:
            cursor.execute(f"CREATE ROLE {ROLE}")
    grant(ROLE)


def become_it(connection: Any, **_: Any) -> None:
    """This connection and all to come."""
    connection.connection.execute(f"SET ROLE {ROLE}")
    connection.recount_held = True


def hold_all(connection: Any) -> None:
    make_role(connection)
    become_it(connection)
    connection_created.connect(become_it)
    reader_is_the_service()
    request_finished.connect(_after)


def _after(**_: Any) -> None:
    reader_is_the_service()
