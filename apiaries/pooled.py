"""Whether a pooler stands between us and the database, which a wrong setting would make into wrong rows.

In transaction mode each transaction may meet another session. A list that is fetched in parts would then go on in a
session where another process has opened a cursor of the same name, whatever that one reads.
"""

from typing import Any

from django.db import OperationalError
from django.db.backends.base.base import BaseDatabaseWrapper

SESSION = "SELECT pg_backend_pid()"


def through_a_pooler(line: BaseDatabaseWrapper) -> bool:
    """Whether the session that answers is another than the one that let us in.

    A pooler lets its clients in itself, with a number of its own (tried with PgBouncer 1.18).
    """
    line.ensure_connection()
    return bool(line.connection.execute(SESSION).fetchone()[0] != line.connection.info.backend_pid)


def refuse_unsaid(*, connection: BaseDatabaseWrapper, **_: Any) -> None:
    """Called for each new connection, by Django's signal. OperationalError where it goes through a pooler unsaid."""
    if connection.vendor != "postgresql" or connection.settings_dict.get("DISABLE_SERVER_SIDE_CURSORS"):
        return
    if through_a_pooler(connection):
        connection.close()
        raise OperationalError(
            "A pooler stands before the database: say DATABASE_POOLED=yes for web, worker and beat. Whatever migrates,"
            " backs up or restores, and REPLICA_DATABASE_URL, must go to PostgreSQL itself."
        )
