"""What a restore asks before its first write; each refusal leaves the database as it was."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.db import Error as DatabaseError
from django.db import connection
from django.db.migrations.loader import MigrationLoader

from apiaries.forgetting.journal import lines
from config.keeping import manifest as manifests
from config.keeping.manifest import JOURNAL, Manifest
from config.keeping.programs import Program, program_for, refuse_a_pooler
from config.keeping.refusals import Refused
from config.keeping.tallies import tables

OTHERS = """SELECT count(*) FROM pg_stat_activity
    WHERE datname = current_database() AND pid <> pg_backend_pid() AND usesysid IS NOT NULL"""


@dataclass(frozen=True)
class Ready:
    """All that was asked and found good."""

    manifest: Manifest
    program: Program
    journals: list[Path]


def ready(folder: Path, *, journals: Sequence[Path], later: bool) -> Ready:
    """Everything a restore needs, or Refused. `later`: a journal that is newer than the backup must be there."""
    if not (folder / manifests.MANIFEST).exists() and (whole := sorted(folder.glob("recount-*Z"))):
        raise Refused(f"{folder} holds {len(whole)} backups: name one of them, the newest is {whole[-1]}.")
    manifest = manifests.read(folder)
    _same_release_or_older(manifest)
    if not manifests.knows_key(manifest.key):
        raise Refused(
            "The backup was made under another SECRET_KEY: set that one, or name it in SECRET_KEY_FALLBACKS."
        )
    told = _journals(folder, manifest, journals, later=later)
    server = _empty_server()
    if server < manifest.server:
        raise Refused(f"The backup is of PostgreSQL {manifest.server}, and this server is {server}.")
    return Ready(manifest, program_for("pg_restore", major=max(server, manifest.dumped_by)), told)


def _same_release_or_older(manifest: Manifest) -> None:
    here = MigrationLoader(None).disk_migrations
    known = set(here) | {tuple(old) for one in here.values() for old in one.replaces}
    newer = [f"{app}.{name}" for app, name in manifest.migrations if (app, name) not in known]
    if newer:
        raise Refused(
            f"The backup is of a newer release ({manifest.release}), with {len(newer)} migrations unknown here, the"
            f" last {newer[-1]}: restore it with that release."
        )


def _journals(folder: Path, manifest: Manifest, given: Sequence[Path], *, later: bool) -> list[Path]:
    """The backup's, and those that tell who was forgotten since."""
    here = Path(settings.ERASURE_JOURNAL)
    newer = [*given, *([here] if here.exists() and here not in given else [])]
    if later and not newer:
        raise Refused(
            f"There is no erasure journal at {here}: whoever was forgotten after the backup would be back. Name the"
            " newest one with --journal FILE, or say --no-later-journal if there is none."
        )
    found = [*([folder / JOURNAL] if manifest.journal else []), *newer]
    try:
        list(lines(found))
    except (OSError, ValueError) as error:
        raise Refused(f"The erasure journal cannot be read. {error}") from error
    return found


def _empty_server() -> int:
    """Major version of the server, whose database is ours alone and empty."""
    name = connection.settings_dict["NAME"]
    try:
        connection.ensure_connection()
    except DatabaseError as error:
        if "does not exist" in str(error):
            raise Refused(f"There is no database {name}: make it first, empty, with createdb.") from None
        raise Refused("The database cannot be reached: say manage.py check_setup.") from None
    refuse_a_pooler()
    if found := tables():
        raise Refused(f"The database {name} is not empty: it has {len(found)} tables. Make a new one.")
    with connection.cursor() as cursor:
        cursor.execute(OTHERS)
        (others,) = cursor.fetchone()
        cursor.execute("SELECT has_schema_privilege('public', 'CREATE')")
        (may,) = cursor.fetchone()
    if others:
        raise Refused(
            f"{others} other sessions use the database {name}: stop web, worker and beat first, and a pooler if there"
            " is one, which keeps its sessions a while."
        )
    if not may:
        raise Refused(
            f"The role of DATABASE_URL may make no tables in {name}: restore as the database's owner."
        )
    return int(getattr(connection, "pg_version", 0)) // 10_000
