"""What the role of the application may do in the database: what it needs and no more.

Migrations run as the role that owns the tables; the service runs as another, which owns nothing. So no mistake in the
program, and nobody who gets a statement of their own past it, can empty a table, change one, or switch off a trigger
or a policy. `manage.py grant_roles ROLE` grants it, after each `migrate`.
"""

from collections.abc import Iterable
from typing import Any

from django.apps import AppConfig, apps
from django.db import connection, transaction
from psycopg import sql

ALL = ("SELECT", "INSERT", "UPDATE", "DELETE")
READ_ONLY = ("django_migrations",)
"""What migrations alone write; the service asks whether all are applied."""


class NotGranted(Exception):
    """Nothing was changed; the text says why and what to do."""


def grant(role: str) -> int:
    """Give the role what it needs, and take what else it was given before; to how many tables.

    To be called as the owner of the tables. One transaction: a running service never meets a table without rights.
    Raises NotGranted.
    """
    with connection.cursor() as cursor:
        _refuse(cursor, role)
        cursor.execute(
            "SELECT relname FROM pg_class WHERE relnamespace = 'public'::regnamespace AND relkind IN ('r', 'p')"
            " AND pg_has_role(current_user, relowner, 'USAGE') ORDER BY relname"
        )
        tables = [name for (name,) in cursor.fetchall()]
        if not tables:
            raise NotGranted(
                "There are no tables of this role here: run `manage.py migrate` first, as the owner."
            )
        cursor.execute("SELECT current_database()")
        (database,) = cursor.fetchone()
        with transaction.atomic():
            for statement in _statements(role, database, tables):
                cursor.execute(statement.as_string(cursor.connection))
    return len(tables)


def rights() -> tuple[set[str], set[str], dict[str, tuple[str, ...]]]:
    """What apps name of their tables: add and read only; no row is ever deleted; only these columns change, ever."""
    append_only: set[str] = set()
    kept: set[str] = set()
    columns: dict[str, tuple[str, ...]] = {}
    for app in apps.get_app_configs():
        append_only.update(_named(app, "append_only_tables"))
        kept.update(_named(app, "kept_tables"))
        columns.update(getattr(app, "changing_columns", {}))
    return append_only, kept, columns


def _named(app: AppConfig, name: str) -> Iterable[str]:
    return getattr(app, name, ())


def _refuse(cursor: Any, role: str) -> None:
    row = _one(
        cursor,
        "SELECT rolsuper OR rolbypassrls, EXISTS (SELECT FROM pg_class WHERE relnamespace = 'public'::regnamespace"
        " AND pg_has_role(rolname, relowner, 'MEMBER')) FROM pg_roles WHERE rolname = %s",
        role,
    )
    if row is None:
        raise NotGranted(f'There is no role {role}. As a superuser: CREATE ROLE "{role}" LOGIN PASSWORD …;')
    mighty, owner = row
    if mighty:
        raise NotGranted(
            f"The role {role} is held by no lock in the database. As a superuser: "
            f'ALTER ROLE "{role}" NOSUPERUSER NOBYPASSRLS;'
        )
    if owner:
        raise NotGranted(
            f"The role {role} owns the tables, or is a member of the role that does. Name the role that the service"
            " runs as, and run this as the owner."
        )


def _one(cursor: Any, query: str, *parameters: object) -> tuple | None:
    cursor.execute(query, parameters)
    row: tuple | None = cursor.fetchone()
    return row


def _statements(role: str, database: str, tables: list[str]) -> Iterable[sql.Composed]:
    to = sql.Identifier(role)
    append_only, kept, columns = rights()
    yield sql.SQL("GRANT CONNECT ON DATABASE {} TO {}").format(sql.Identifier(database), to)
    yield sql.SQL("GRANT USAGE ON SCHEMA public TO {}").format(to)
    yield sql.SQL("REVOKE CREATE ON SCHEMA public FROM {}").format(to)
    yield sql.SQL("GRANT USAGE, SELECT ON ALL SEQUENCES IN SCHEMA public TO {}").format(to)
    for name in tables:
        table = sql.Identifier(name)
        given = set(ALL)
        if name in append_only:
            given -= {"UPDATE", "DELETE"}
        elif name in kept:
            given -= {"DELETE"}
        elif name in READ_ONLY:
            given = {"SELECT"}
        if name in columns:
            given -= {"UPDATE"}
        # REVOKE takes a right on the table from its columns too.
        yield sql.SQL("REVOKE ALL ON {} FROM {}").format(table, to)
        yield sql.SQL("GRANT {} ON {} TO {}").format(
            sql.SQL(", ").join(sql.SQL(one) for one in ALL if one in given), table, to
        )
        if name in columns:
            which = sql.SQL(", ").join(map(sql.Identifier, columns[name]))
            yield sql.SQL("GRANT UPDATE ({}) ON {} TO {}").format(which, table, to)
