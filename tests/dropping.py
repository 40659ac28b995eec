"""Databases that tests made go again, whoever is still in them."""

from typing import Any

import psycopg
from psycopg import sql


def drop_database(server: psycopg.Connection[Any], name: str) -> None:
    """Drops it, if it is there, over a connection to another database that commits by itself.

    WITH (FORCE) refuses a plain role while the server's own vacuum is at work in there; a plain DROP sends that one
    away, and waits for the rest.
    """
    server.execute(
        """SELECT pg_terminate_backend(pid) FROM pg_stat_activity
        WHERE datname = %s AND backend_type = 'client backend' AND pg_has_role(usesysid, 'MEMBER')""",
        [name],
    )
    server.execute(sql.SQL("DROP DATABASE IF EXISTS {}").format(sql.Identifier(name)))
