"""Whole suites under the second lock: RECOUNT_HELD=1 lets every test run as a plain role that row-level security holds.

What a test does by itself is the service's doing; what it asks of a page, the signed-in person's.
"""

import os
from typing import Any

from django.contrib.auth.signals import user_logged_in, user_logged_out
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
    user_logged_in.connect(_after_signing_in)
    user_logged_out.connect(_after_signing_in)


def let_go(connection: Any) -> None:
    """Who made the database drops it."""
    connection_created.disconnect(become_it)
    with connection.cursor() as cursor:
        cursor.execute("RESET ROLE")
    connection.recount_held = False


def _after(**_: Any) -> None:
    reader_is_the_service()


def _after_signing_in(*, request: Any, **_: Any) -> None:
    if request is None or request.method is None:  # the test's own doing (`force_login`), within no request
        reader_is_the_service()
