"""`manage.py migrate`: Django's, which waits two seconds for a lock and no longer, and tries again.

A migration that waits for a table makes everybody behind it wait too, readers included. So it gives up early, lets
the others pass, and comes back; what an earlier try has done stays done.
"""

import time
from typing import Any

from django.core.management.base import CommandError, CommandParser
from django.core.management.commands import migrate
from django.db import OperationalError, connections
from django.db.backends.base.base import BaseDatabaseWrapper
from psycopg.errors import LockNotAvailable

from apiaries.pooled import through_a_pooler

LONGEST_PAUSE = 30
OWNS = """
    SELECT current_user, has_schema_privilege('public', 'CREATE')
           AND NOT EXISTS (SELECT FROM pg_class WHERE oid = to_regclass('django_migrations')
                           AND NOT pg_has_role(current_user, relowner, 'USAGE'))
"""
HOLDERS = """
    SELECT pid, coalesce(nullif(application_name, ''), 'a session'),
           extract(epoch FROM clock_timestamp() - xact_start)::int
    FROM pg_stat_activity
    WHERE datname = current_database() AND pid <> pg_backend_pid() AND xact_start IS NOT NULL
    ORDER BY xact_start LIMIT 3
"""


class Command(migrate.Command):
    def add_arguments(self, parser: CommandParser) -> None:
        super().add_arguments(parser)
        parser.add_argument("--lock-seconds", type=float, default=2.0, help="how long to wait for a lock")
        parser.add_argument("--tries", type=int, default=12, help="how often to try before giving up")

    def handle(self, *args: Any, **options: Any) -> None:
        lock_seconds, tries = options.pop("lock_seconds"), options.pop("tries")
        if not 0 < lock_seconds <= 60 or tries < 1:
            raise CommandError("--lock-seconds must be above 0 and at most 60, --tries at least 1.")
        connection = connections[options["database"]]
        if not (options["plan"] or options["check_unapplied"]):
            _refuse_who_does_not_own(connection)
            if through_a_pooler(connection):
                raise CommandError(
                    "Not migrated: a pooler stands before the database. Migrate with an address of PostgreSQL itself."
                )
        for number in range(1, tries + 1):
            try:
                return self._once(connection, lock_seconds, *args, **options)
            except OperationalError as error:
                if not isinstance(error.__cause__, LockNotAvailable) or connection.in_atomic_block:
                    raise
                if number == tries:
                    raise CommandError(_given_up(connection, tries, lock_seconds)) from error
                pause = min(2 ** (number - 1), LONGEST_PAUSE)
                self.stdout.write(f"\n  A table is in use. Letting the others pass, again in {pause} s.")
                time.sleep(pause)

    def _once(self, connection: BaseDatabaseWrapper, lock_seconds: float, *args: Any, **options: Any) -> None:
        waits = f"{lock_seconds * 1000:.0f}ms"

        def patient(execute: Any, sql: Any, params: Any, many: bool, context: Any) -> Any:
            """What works CONCURRENTLY holds nobody up, and must not be cut off: it would leave a broken index."""
            if "CONCURRENTLY" not in str(sql).upper() or connection.in_atomic_block:
                return execute(sql, params, many, context)
            _wait(connection, "0")
            try:
                return execute(sql, params, many, context)
            finally:
                _wait(connection, waits)

        _wait(connection, waits)
        try:
            with connection.execute_wrapper(patient):
                super().handle(*args, **options)
        finally:
            if connection.is_usable() and not connection.needs_rollback:
                with connection.cursor() as cursor:
                    cursor.execute("RESET lock_timeout")


def _refuse_who_does_not_own(connection: BaseDatabaseWrapper) -> None:
    """The service's role, most likely. PostgreSQL refuses it too, with a traceback and no word of another role."""
    with connection.cursor() as cursor:
        cursor.execute(OWNS)
        role, owns = cursor.fetchone()
    if not owns:
        raise CommandError(
            f"Not migrated: the role {role} owns no tables here and may make none. Migrate with the DATABASE_URL of the"
            " database's owner, as the role that owns its tables: start.sh as FILE migrate"
        )


def _wait(connection: BaseDatabaseWrapper, how_long: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT set_config('lock_timeout', %s, false)", [how_long])


def _given_up(connection: BaseDatabaseWrapper, tries: int, lock_seconds: float) -> str:
    with connection.cursor() as cursor:
        cursor.execute(HOLDERS)
        holders = "; ".join(f"{name} (pid {pid}) for {seconds} s" for pid, name, seconds in cursor.fetchall())
    return (
        f"Not migrated: a table was in use for longer than {lock_seconds:g} s, {tries} times. Nobody waits for "
        "this any more, and what was done by then is whole. Say migrate again in a quieter minute, or end "
        "what holds the table. "
        f"Longest at work in this database: {holders or 'nothing by now'}."
    )
