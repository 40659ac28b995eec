"""What a database holds, in sums that every version of PostgreSQL works out alike: rows, and each column by itself."""

from dataclasses import asdict, dataclass
from typing import Any

from django.db import connection
from psycopg import sql

COLUMNS = """
    SELECT c.relname, array_agg(a.attname ORDER BY a.attnum),
           (SELECT array_agg(k.attname ORDER BY k.attnum) FROM pg_index i
            JOIN pg_attribute k ON k.attrelid = i.indrelid AND k.attnum = ANY (i.indkey)
            WHERE i.indrelid = c.oid AND i.indisprimary)
    FROM pg_class c JOIN pg_attribute a ON a.attrelid = c.oid AND a.attnum > 0 AND NOT a.attisdropped
    WHERE c.relkind = 'r' AND c.relnamespace = 'public'::regnamespace GROUP BY c.oid, c.relname ORDER BY c.relname
"""
# Twelve hexadecimal digits of MD5 as a number: sums of some thousands of them fit into a bigint.
ONE = "('x' || left(md5(concat_ws('|', {key}, {column}::text, {column} IS NULL)), 12))::bit(48)::bigint"


@dataclass(frozen=True)
class Table:
    """One table as it was: `sums` has a number for each column, of each row's key and value."""

    rows: int
    last: int | None
    """The highest key; None where keys are no numbers. What came later is not in the sums."""
    sums: dict[str, str]

    def stored(self) -> dict[str, Any]:
        return asdict(self)


def columns() -> dict[str, tuple[list[str], list[str]]]:
    """The columns of each table, and those of its primary key."""
    with connection.cursor() as cursor:
        cursor.execute(COLUMNS)
        return {name: (names, key or []) for name, names, key in cursor.fetchall()}


def table(name: str, names: list[str], key: list[str], *, last: int | None = None) -> Table:
    """Rows and sums of these columns; with `last`, of rows with keys up to it."""
    ids = [sql.Identifier(one) for one in key]
    keys = sql.SQL(", ").join(sql.SQL("{}::text").format(one) for one in ids)
    sums = [
        sql.SQL("sum({})::text").format(sql.SQL(ONE).format(key=keys, column=sql.Identifier(one)))
        for one in names
    ]
    where = sql.SQL("WHERE {} <= {}").format(ids[0], last) if last is not None else sql.SQL("")
    with connection.cursor() as cursor:
        cursor.execute("SET TIME ZONE 'UTC'")
        cursor.execute(
            sql.SQL("SELECT count(*), {} FROM {} {}").format(
                sql.SQL(", ").join([_highest(name, key), *sums]), sql.Identifier(name), where
            )
        )
        rows, highest, *found = cursor.fetchone()
    return Table(rows, highest, dict(zip(names, found, strict=True)))


def tables() -> dict[str, Table]:
    """Every table there is."""
    return {name: table(name, names, key) for name, (names, key) in columns().items()}


def _highest(name: str, key: list[str]) -> sql.Composable:
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT count(*) FROM information_schema.columns WHERE table_schema = 'public' AND table_name = %s"
            " AND column_name = ANY (%s) AND data_type IN ('integer', 'bigint', 'smallint')",
            [name, key],
        )
        (numbers,) = cursor.fetchone()
    return sql.SQL("max({})").format(sql.Identifier(key[0])) if numbers == len(key) == 1 else sql.SQL("NULL")
