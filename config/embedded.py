"""The database of a first run and of the tests: PostgreSQL from a wheel, used when DATABASE_URL is unset.

It listens on a Unix socket in a folder of mode 0700 and on no network address, so other people on the machine cannot
even knock; should the folder ever be opened, every role still wants its password. `database_url` starts nothing: it
may be called by commands that need no database. Entry points call `start_if_embedded` (through config.entry).
The server keeps running when the process that started it ends, and `stop_server` refuses while anybody uses it.
"""

import fcntl
import os
import shlex
import subprocess
import sys
import time
from dataclasses import dataclass
from enum import Enum
from pathlib import Path
from urllib.parse import quote

import psycopg

from config.embedded_cluster import check_version, connect, make_data, make_roles
from config.embedded_place import (
    PORT,
    EmbeddedError,
    Place,
    forget,
    locked,
    open_private,
    place_of,
    ready_folders,
)
from config.embedded_process import end_orphans, forget_stale_pid_file, postmaster_of
from config.paths import VAR

PATIENCE = 300.0  # seconds: crash recovery of a busy server was measured at more than 10
TRIES = 3  # failed starts in a row that no waiting can mend
PASSING = ("pre-existing shared memory block", "lock file", "is still in use", "starting up")
OPTIONS = {
    "listen_addresses": "",
    "unix_socket_permissions": "0700",
    "timezone": "UTC",
    "log_timezone": "UTC",
}


class Stop(Enum):
    """What became of a request to stop."""

    STOPPED = "stopped"
    NOT_RUNNING = "not running"
    IN_USE = "still in use by another process, left running"


@dataclass(frozen=True)
class EmbeddedServer:
    """How to reach the server, as URLs for django-environ (`url`, `test_url`)."""

    place: Place

    @property
    def url(self) -> str:
        return self._url("recount", "recount")

    @property
    def test_url(self) -> str:
        """A role that may make and drop its own test database, and may not enter the club's."""
        return self._url("recount_test", "recount_test")

    @property
    def psql_url(self) -> str:
        """The same as `url`, in the form that psql and libpq read."""
        password = self.place.passwords["recount"]
        return f"postgresql://recount:{password}@{quote(str(self.place.run), safe='')}:{PORT}/recount"

    def connect(self, role: str = "recount", database: str = "recount") -> psycopg.Connection:
        return connect(self.place, role, database)

    def _url(self, role: str, database: str) -> str:
        # django-environ takes a socket's folder from the path, not from the host.
        return f"postgres://{role}:{self.place.passwords[role]}@/{quote(str(self.place.run))}/{database}"


def database_url(var: Path = VAR, *, testing: bool = False) -> str:
    """DATABASE_URL if set, else the embedded server's URL (the test role's if testing). Starts nothing."""
    given = os.environ.get("DATABASE_URL")
    if given:
        return given
    server = EmbeddedServer(place_of(var / "postgres"))
    return server.test_url if testing else server.url


def start_if_embedded(var: Path = VAR) -> EmbeddedServer | None:
    """The running embedded server, or None when DATABASE_URL names another. Milliseconds if it runs already."""
    return None if os.environ.get("DATABASE_URL") else ensure_server(var / "postgres")


def ensure_server(home: Path) -> EmbeddedServer:
    """The server of this home, started if need be. It is not stopped while this process lives or holds its lease.

    Raises EmbeddedError when it cannot be started, after waiting up to five minutes for a crash recovery.
    """
    place = place_of(home)
    _take_lease(place.home)
    running = postmaster_of(place.data)
    if not running or not running.ready:
        with locked(place.home / "start.lock"):
            place = _started(place_of(home))
    return EmbeddedServer(place)


def stop_server(home: Path, *, force: bool = False) -> Stop:
    """Stop the server of this home, unless another process uses it (then only with force)."""
    if not (home / "server.json").exists():
        return Stop.NOT_RUNNING
    place = place_of(home)
    with locked(place.home / "start.lock"):
        release_lease(place.home)
        last = _sole_user(place.home)
        if last is None and not force:
            return Stop.IN_USE
        try:
            return _stopped(place)
        finally:
            if last is not None:
                os.close(last)


def release_lease(home: Path) -> None:
    """This process no longer minds if the server is stopped."""
    handle = _leases.pop(home.absolute(), None)
    if handle is not None:
        os.close(handle)


_leases: dict[Path, int] = {}


def _take_lease(home: Path) -> None:
    if home not in _leases:
        _leases[home] = _users_file(home)
        fcntl.flock(_leases[home], fcntl.LOCK_SH)  # waits while somebody stops the server


def _sole_user(home: Path) -> int | None:
    """An open file that keeps others from taking a lease, or None if some have one. To be closed."""
    handle = _users_file(home)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(handle)
        return None
    return handle


def _users_file(home: Path) -> int:
    """Locked by every process that uses the server; the kernel unlocks it when a process is killed."""
    return open_private(home / "users.lock")


def _started(place: Place) -> Place:
    place = ready_folders(place)
    if not place.data.exists():
        make_data(place)
    check_version(place)
    until, failures = time.monotonic() + PATIENCE, 0
    while True:
        running = postmaster_of(place.data)
        if running and running.ready:
            break
        if not running:
            failures += 0 if _launched(place, until - time.monotonic()) else 1
        if failures >= TRIES or time.monotonic() > until:
            raise EmbeddedError(
                f"The embedded PostgreSQL does not start. The end of {place.log}:\n{_log_end(place)}"
            )
        time.sleep(0.1)
    make_roles(place)
    return place


def _launched(place: Place, seconds: float) -> bool:
    """Whether it is worth waiting for: the server runs or starts, or failed for a reason that passes."""
    for pid in end_orphans(place.data):
        _say(f"Ended process {pid}, which a killed database server of this folder had left behind.")
    if forget_stale_pid_file(place.data):
        _say("Removed a stale postmaster.pid: its number belongs to another program now.")
    options = " ".join(f"-c {name}={shlex.quote(value)}" for name, value in OPTIONS.items())
    options += f" -k {shlex.quote(str(place.run))} -p {PORT}"
    size = _log_size(place)
    wait = str(max(1, int(seconds)))
    try:
        status, _ = place.command(
            "pg_ctl", "start", "-w", "-t", wait, "-D", str(place.data), "-l", str(place.log), "-o", options,
            timeout=seconds + 10,
        )  # fmt: skip
    except subprocess.TimeoutExpired:
        return True
    return status == 0 or any(words in _log_end(place, size) for words in PASSING)


def _stopped(place: Place) -> Stop:
    if not postmaster_of(place.data):
        return Stop.STOPPED if end_orphans(place.data) else Stop.NOT_RUNNING
    # Fast: sessions are ended and their transactions rolled back, which is what their owners' end means too.
    status, output = place.command(
        "pg_ctl", "stop", "-w", "-t", "60", "-m", "fast", "-D", str(place.data), timeout=70
    )
    if status:
        raise EmbeddedError(f"The embedded PostgreSQL does not stop: {output}")
    return Stop.STOPPED


def _log_size(place: Place) -> int:
    return place.log.stat().st_size if place.log.exists() else 0


def _log_end(place: Place, start: int = 0) -> str:
    """The last lines of the server's log, from this position on."""
    if not place.log.exists():
        return "(no log was written)"
    with place.log.open("rb") as file:
        file.seek(max(start, _log_size(place) - 4000))
        return "\n".join(file.read().decode(errors="replace").splitlines()[-20:])


def _say(text: str) -> None:
    sys.stderr.write(f"{text}\n")


def main(arguments: list[str]) -> int:
    """start, stop [--force], status, url, remove; 0 done or running, 3 not running, 1 refused."""
    words = {"start", "stop", "status", "url", "remove"}
    if not arguments or arguments[0] not in words or arguments[1:] not in ([], ["--force"]):
        _say(
            f"Say one of: python -m config.embedded {' | '.join(sorted(words))}   (stop and remove take --force)"
        )
        return 2
    if os.environ.get("DATABASE_URL"):
        _say("DATABASE_URL is set, so no embedded PostgreSQL is used.")
        return 0
    try:
        return _obey(arguments[0], VAR / "postgres", force="--force" in arguments)
    except EmbeddedError as error:
        _say(str(error))
        return 1


def _obey(word: str, home: Path, *, force: bool) -> int:
    match word:
        case "start":
            ensure_server(home)
            print("The embedded PostgreSQL runs.")  # noqa: T201 (this is what was asked for)
        case "url":
            print(ensure_server(home).psql_url)  # noqa: T201 (this is what was asked for)
        case "status":
            running = (home / "server.json").exists() and postmaster_of(place_of(home).data)
            print(f"runs, process {running.pid}" if running else "does not run")  # noqa: T201
            return 0 if running else 3
        case _:
            outcome = stop_server(home, force=force)
            print(f"The embedded PostgreSQL: {outcome.value}.")  # noqa: T201
            if outcome is Stop.IN_USE:
                _say(
                    "End the running `make demo` or `make test` first, or say: python -m config.embedded stop --force"
                )
                return 1
            if word == "remove" and (home / "server.json").exists():
                forget(place_of(home))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
