"""Takes a backup: a dump and the numbers it is held against, both of one snapshot, whole or not at all."""

import datetime as dt
import fcntl
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass, replace
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from django.conf import settings
from django.db import Error as DatabaseError
from django.db import connection, transaction
from django.db.migrations.recorder import MigrationRecorder

from config.keeping import manifest as manifests
from config.keeping.manifest import DUMP, JOURNAL, Manifest, fingerprint
from config.keeping.programs import Program, disk_is_full, program_for, refuse_a_pooler, run, start
from config.keeping.refusals import BrokeOff, Refused
from config.keeping.tallies import LEFT_OUT, OURS, rules, settled, tallies
from config.paths import BASE_DIR
from treatments.chain_actions import chain_heads

NAME = "recount-%Y%m%dT%H%M%SZ"
PARTIAL = ".partial"
ROOM = 16 * 1024 * 1024  # bytes: with less there is no use in beginning (our choice)
GRANTED = f"""SELECT DISTINCT r.rolname FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace,
    LATERAL aclexplode(c.relacl) a JOIN pg_roles r ON r.oid = a.grantee
    WHERE a.grantee <> c.relowner AND {OURS} ORDER BY 1"""  # noqa: S608  (fixed texts)


@dataclass(frozen=True)
class Taken:
    """A whole backup."""

    folder: Path
    bytes: int
    manifest: Manifest


def take(folder: Path, *, at: dt.datetime, jobs: int = 1) -> Taken:
    """A new backup in a folder of its own inside this one.

    Raises Refused where it cannot be begun, BrokeOff where it was begun; then nothing of it is left.
    """
    server = _server()
    dumper, lister = (program_for(name, major=server) for name in ("pg_dump", "pg_restore"))
    with _alone_in(folder):
        final = folder / at.astimezone(dt.UTC).strftime(NAME)
        partial = final.with_name(final.name + PARTIAL)
        if final.exists():
            raise Refused(f"{final} is there already.")
        for left in folder.glob(
            f"recount-*{PARTIAL}"
        ):  # of one that was killed; nobody else is at work in here
            shutil.rmtree(left)
        try:
            partial.mkdir(mode=0o700)
            manifest = _dumped(partial / DUMP, dumper, jobs, server=server)
            manifest = replace(manifest, journal=_copy_journal(partial))
            _held_against_its_list(partial / DUMP, lister, manifest)
            size = manifests.write(partial, manifest)
            partial.rename(final)
            manifests.on_disk(folder)
        except OSError as error:
            raise BrokeOff(_of_disk(error, folder)) from error
        finally:
            shutil.rmtree(partial, ignore_errors=True)
    return Taken(final, size, manifest)


def drop_oldest(folder: Path, *, keep: int) -> list[Path]:
    """Remove whole backups until only the `keep` newest are left; those that went. Nothing else is touched."""
    whole = sorted(path.parent for path in folder.glob(f"recount-*Z/{manifests.SUMS}"))
    gone = whole[:-keep]
    for path in gone:
        away = path.with_name(path.name + PARTIAL)  # so that half of one is never taken for a whole one
        path.rename(away)
        shutil.rmtree(away)
    return gone


def _server() -> int:
    """Major version of the server. Refused where it cannot be reached."""
    try:
        connection.ensure_connection()
    except DatabaseError:
        raise Refused("The database cannot be reached: say manage.py check_setup.") from None
    refuse_a_pooler()
    return int(getattr(connection, "pg_version", 0)) // 10_000


@contextmanager
def _alone_in(folder: Path) -> Iterator[None]:
    """While nobody else backs up into this folder."""
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        handle = os.open(folder / ".lock", os.O_RDWR | os.O_CREAT, 0o600)
    except OSError as error:
        raise Refused(f"{folder} cannot be written to: {error.strerror}.") from error
    try:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise Refused(f"Another backup into {folder} is at work.") from None
        if shutil.disk_usage(folder).free < ROOM:
            raise Refused(f"No space is left in {folder}.")
        yield
    finally:
        os.close(handle)


def _copy_journal(partial: Path) -> bool:
    """After the dump, so that whoever was forgotten meanwhile is in it; whether there is any."""
    journal = Path(settings.ERASURE_JOURNAL)
    if not journal.exists():
        return False
    shutil.copyfile(journal, partial / JOURNAL)
    manifests.on_disk(partial / JOURNAL)
    return True


def _dumped(dump: Path, dumper: Program, jobs: int, *, server: int) -> Manifest:
    """Dump the database, and count it meanwhile, both as it was at one moment."""
    if connection.in_atomic_block:
        raise RuntimeError("A backup wants a snapshot of its own, and this is inside another transaction.")
    try:
        with transaction.atomic(durable=True):
            snapshot, at = _snapshot()
            arguments = ["--format=directory", f"--file={dump}", f"--snapshot={snapshot}", f"--jobs={jobs}"]
            arguments += ["--compress=1", *(f"--exclude-table-data={name}" for name in LEFT_OUT)]
            running = start(dumper, arguments)
            try:
                settled()
                found = Manifest(
                    taken_at=at.isoformat(),
                    release=_release(),
                    server=server,
                    dumped_by=dumper.major,
                    key=fingerprint(settings.SECRET_KEY),
                    migrations=sorted(MigrationRecorder(connection).applied_migrations()),
                    tables=tallies(),
                    rules=rules(),
                    roles=_granted(),
                    chains=[asdict(head) | {"at": head.at.isoformat()} for head in chain_heads()],
                    left_out=list(LEFT_OUT),
                    journal=False,
                )
                status, said = running.wait()
            finally:
                running.end()
    except DatabaseError as error:
        raise BrokeOff(f"The database could not be read: {_first(str(error))}") from error
    if disk_is_full(said):
        raise BrokeOff(f"No space is left in {dump.parent.parent}.")
    if status:
        raise BrokeOff(f"pg_dump ended with {status}: {_first(said)}")
    return found


def _snapshot() -> tuple[str, dt.datetime]:
    with connection.cursor() as cursor:
        cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        cursor.execute("SELECT pg_export_snapshot(), transaction_timestamp()")
        snapshot, at = cursor.fetchone()
    return snapshot, at.astimezone(dt.UTC)


def _granted() -> list[str]:
    with connection.cursor() as cursor:
        cursor.execute(GRANTED)
        return [name for (name,) in cursor.fetchall()]


def _held_against_its_list(dump: Path, lister: Program, manifest: Manifest) -> None:
    """See that the dump says of itself that it has the rows of every table: that it ran is not that they are there."""
    status, said = run(lister.path, ["--list", str(dump)])
    # 3952; 0 24612 TABLE DATA public apiaries_club recount
    parts = [line.split() for line in said.splitlines()]
    listed = {".".join(one[5:7]) for one in parts if one[3:5] == ["TABLE", "DATA"]}
    wanted = {name for name in manifest.tables if name.partition(".")[2] not in manifest.left_out}
    if status or wanted - listed:
        missing = ", ".join(sorted(wanted - listed)) or _first(said)
        raise BrokeOff(f"The dump cannot be read, or lacks tables: {missing}")


def _release() -> str:
    try:
        number = version("recount")
    except PackageNotFoundError:
        number = "unknown"
    git = shutil.which("git")
    status, commit = run(Path(git), ["-C", str(BASE_DIR), "rev-parse", "HEAD"]) if git else (1, "")
    return number if status else f"{number} {commit.strip()}"


def _of_disk(error: OSError, folder: Path) -> str:
    if disk_is_full(str(error)):
        return f"No space is left in {folder}."
    return f"{folder} could not be written to: {error.strerror}."


def _first(said: str) -> str:
    """The first line, for the console; a program's further lines may quote rows."""
    return (said.splitlines() or ["nothing was said"])[0][:200]
