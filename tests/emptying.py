"""How the tests' database is emptied after a test with transactions of its own."""

from typing import Any

from django.db import transaction

KEPT = frozenset({"django_content_type", "auth_permission"})
"""Filled by `migrate`; no test touches them."""
LARGE = 2**20
"""Bytes. From here on cutting all tables off costs less than taking out rows, which are held against foreign keys."""


def empty(connection: Any) -> bool:
    """Takes all rows out of the few tables that have some; False, and nothing done, where those are large.

    Django cuts off all tables there are, which takes a second, however few rows a test made.
    """
    tables = set(connection.introspection.django_table_names(only_existing=True, include_views=False)) - KEPT
    quoted = sorted(map(connection.ops.quote_name, tables))
    used = "SELECT '{0}', pg_relation_size('{0}') WHERE EXISTS (SELECT FROM {0})"
    with transaction.atomic(using=connection.alias), connection.cursor() as cursor:
        cursor.execute(" UNION ALL ".join(used.format(name) for name in quoted))
        sizes = dict(cursor.fetchall())
        if not sizes or max(sizes.values()) >= LARGE:
            return not sizes
        # Some rows are not to be deleted, and a deletion is not to become history.
        statements = [f"ALTER TABLE {name} DISABLE TRIGGER USER" for name in sizes]
        statements += [f"DELETE FROM {name}" for name in sizes]
        statements += ["SET CONSTRAINTS ALL IMMEDIATE"]
        statements += [f"ALTER TABLE {name} ENABLE TRIGGER USER" for name in sizes]
        cursor.execute("; ".join(statements))
    return True
