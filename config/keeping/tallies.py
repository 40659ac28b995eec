"""What a database holds, as numbers that are the same after a restore: rows, checksums, numbers of rules.

The checksum of a table is the sum of a 64-bit hash of each row's text: of the same rows in any order the same, also
where a row is there twice. Texts of rows depend on some settings of the session, which `settled` fixes.
"""

from dataclasses import dataclass

from django.db import connection
from psycopg import sql

LEFT_OUT = ("config_cache", "django_session")
"""Whose rows are not backed up: a restore must not bring back sessions that were ended since."""
OURS = "n.nspname NOT IN ('pg_catalog', 'information_schema') AND n.nspname NOT LIKE 'pg\\_%'"
TABLES = f"""SELECT n.nspname, c.relname FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace
    WHERE c.relkind = 'r' AND {OURS} ORDER BY 1, 2"""  # noqa: S608  (fixed texts)
RULES = f"""SELECT kind, count(*) FROM (
    SELECT 'column' AS kind, c.relnamespace AS space FROM pg_attribute a JOIN pg_class c ON c.oid = a.attrelid
        WHERE a.attnum > 0 AND NOT a.attisdropped AND c.relkind = 'r'
    UNION ALL SELECT 'index', c.relnamespace FROM pg_index i JOIN pg_class c ON c.oid = i.indrelid
        WHERE c.relkind = 'r'
    UNION ALL SELECT 'constraint ' || contype::text, connamespace FROM pg_constraint
        WHERE contype <> 'n' AND conrelid <> 0
    UNION ALL SELECT 'trigger ' || tgenabled::text, c.relnamespace FROM pg_trigger t
        JOIN pg_class c ON c.oid = t.tgrelid WHERE NOT tgisinternal
    UNION ALL SELECT 'policy', c.relnamespace FROM pg_policy p JOIN pg_class c ON c.oid = p.polrelid
    UNION ALL SELECT 'walled table', c.relnamespace FROM pg_class c WHERE c.relrowsecurity
    UNION ALL SELECT 'sequence', c.relnamespace FROM pg_class c WHERE c.relkind = 'S'
    ) x JOIN pg_namespace n ON n.oid = space WHERE {OURS} GROUP BY 1"""  # noqa: S608  (fixed texts)
SETTINGS = {
    "timezone": "UTC",
    "datestyle": "ISO, YMD",
    "intervalstyle": "iso_8601",
    "extra_float_digits": "1",
    "bytea_output": "hex",
    "xmloption": "content",
    "statement_timeout": "0",
    "idle_in_transaction_session_timeout": "0",
    "row_security": "off",  # rows that a policy hides become an error instead of a smaller number
}


@dataclass(frozen=True)
class Tally:
    """Of one table."""

    rows: int
    checksum: str
    """A whole number, written out: it has more digits than some readers of JSON keep."""


def settled() -> None:
    """Fix the settings on which texts of rows depend, until this transaction ends."""
    with connection.cursor() as cursor:
        for name, value in SETTINGS.items():
            cursor.execute("SELECT set_config(%s, %s, true)", [name, value])


def tables() -> list[tuple[str, str]]:
    """Schema and name of every table that is no catalogue's."""
    with connection.cursor() as cursor:
        cursor.execute(TABLES)
        return [(schema, name) for schema, name in cursor.fetchall()]


def tallies() -> dict[str, Tally]:
    """Of every table, by `schema.name`; to be called `settled`. Those left out count as empty."""
    found = {}
    with connection.cursor() as cursor:
        for schema, name in tables():
            if name in LEFT_OUT:
                found[f"{schema}.{name}"] = Tally(0, "0")
                continue
            table = sql.Identifier(schema, name).as_string(None)
            # Parallel workers count as one: sums of whole numbers have no order.
            cursor.execute(
                f"SELECT count(*), coalesce(sum(hashtextextended(t::text, 0)), 0)::text FROM ONLY {table} t"  # noqa: S608
            )
            rows, checksum = cursor.fetchone()
            found[f"{schema}.{name}"] = Tally(rows, checksum)
    return found


def rules() -> dict[str, int]:
    """How many columns, indexes, constraints, triggers, policies and sequences there are."""
    with connection.cursor() as cursor:
        cursor.execute(RULES)
        return dict(cursor.fetchall())
