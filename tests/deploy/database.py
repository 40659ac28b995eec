"""A database made by the documented step, with the role that owns it and the one that the service runs as."""

import os
import secrets
import subprocess
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import psycopg

from config import embedded
from tests.deploy.hosts import START
from tests.dropping import drop_database

AT_WORK = """
    SELECT application_name, usename FROM pg_stat_activity
    WHERE datname = %s AND backend_type = 'client backend'
"""


@dataclass
class Database:
    """A database made by the documented steps, and how a process on this machine reaches it as either role."""

    host: str
    port: int
    name: str
    owner: str
    role: str
    password: str
    """Of both: the script was given a line for each."""
    administrator: Mapping[str, Any]

    def url(self, role: str, at: str = "") -> str:
        if self.host.startswith("/"):  # a socket in a folder is there for every namespace
            return f"postgres://{role}:{self.password}@/{self.host.replace('/', '%2F')}/{self.name}"
        return f"postgres://{role}:{self.password}@{at or f'{self.host}:{self.port}'}/{self.name}"

    def connect(self, role: str) -> psycopg.Connection:
        return psycopg.connect(
            host=self.host,
            port=self.port,
            user=role,
            password=self.password,
            dbname=self.name,
            autocommit=True,
        )

    def number(self, query: str) -> int:
        """Asked by the owner, who sees all."""
        with self.connect(self.owner) as line:
            row = line.execute(query).fetchone()
        assert row
        return int(row[0])

    def sessions(self) -> int:
        """How many the service's role has open."""
        return self.number(f"SELECT count(*) FROM pg_stat_activity WHERE usename = '{self.role}'")

    def at_work(self) -> dict[str, set[str]]:
        """Which roles are connected, by the name of their program. A superuser alone is told."""
        found: dict[str, set[str]] = {}
        with psycopg.connect(**self.administrator, dbname="postgres") as line:
            for program, role in line.execute(AT_WORK, [self.name]):
                found.setdefault(program, set()).add(role)
        return found


@contextmanager
def open_database(name: str, settings: Mapping[str, Any], *, mighty: bool) -> Iterator[Database]:
    """By a superuser: the tests' role where it is `mighty`, else the embedded server's administrator."""
    host, port = settings["HOST"] or "127.0.0.1", int(settings["PORT"] or 5432)
    ours = {"host": host, "port": port, "user": settings["USER"], "password": settings["PASSWORD"] or ""}
    path = os.environ["PATH"]
    if not mighty:
        server = embedded.start_if_embedded()
        assert server, "The role of DATABASE_URL can make no roles: name a superuser's, or leave it out."
        ours |= {"user": "recount_admin", "password": server.place.passwords["recount_admin"]}
        path = f"{server.place.install / 'bin'}:{path}"  # where psql is
    made = Database(host, port, name, f"{name}_owner", name, secrets.token_hex(12), ours)
    surroundings = {f"PG{key.upper()}": str(value) for key, value in ours.items() if value} | {"PATH": path}
    done = subprocess.run(
        [str(START), "database", made.owner, made.role, made.name],
        env=os.environ | surroundings,
        input=f"{made.password}\n{made.password}\n",
        capture_output=True,
        text=True,
        timeout=300,
    )
    assert done.returncode == 0, done.stderr
    try:
        yield made
    finally:
        with psycopg.connect(**ours, dbname="postgres", autocommit=True) as line:
            drop_database(line, name)
            line.execute(f"DROP ROLE {made.role}")
            line.execute(f"DROP ROLE {made.owner}")
