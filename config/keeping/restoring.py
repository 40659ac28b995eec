"""Restores a backup into an empty database, counts everything again, and lets nothing of it be sent."""

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from io import StringIO
from pathlib import Path

from django.conf import settings
from django.core.management import CommandError, call_command
from django.db import Error as DatabaseError
from django.db import connection, transaction

from apiaries.second_step_seeds import Kept, all_kept
from config.grants import NotGranted, grant
from config.keeping.checking import Ready, ready
from config.keeping.manifest import DUMP, Manifest
from config.keeping.programs import disk_is_full, start
from config.keeping.refusals import BrokeOff
from config.keeping.tallies import rules, settled, tables, tallies
from reports.models import SendingPause
from reports.pausing import pause_sending
from treatments.chain_actions import chain_heads
from treatments.chain_check import all_faults

PAUSES = SendingPause._meta.db_table
WHY = "The data was restored from a backup, and what it says is due may have been sent since."
SHOWN = 5  # differences


@dataclass
class Restored:
    """What was done."""

    manifest: Manifest
    migrated: bool = False
    faults: int = 0
    """Of the medicine records."""
    erasures: str = ""
    """What replaying the journals said."""
    roles: list[str] = field(default_factory=list)
    """One sentence for each role that had been granted something."""
    seeds: Counter[Kept] = field(default_factory=Counter)
    """How the seeds of second steps lie: an older backup may hold them in plain text, or under a key that is gone."""


def restore(
    folder: Path, *, at: dt.datetime, jobs: int = 1, journals: Sequence[Path] = (), later: bool = True
) -> Restored:
    """The backup in this folder, into the empty database of the settings. Reminders stay paused.

    Raises Refused where nothing was written, BrokeOff where the database is not to be used: it must be dropped.
    """
    prepared = ready(folder, journals=journals, later=later)
    try:
        return _restored(folder / DUMP, prepared, at=at, jobs=jobs)
    except DatabaseError as error:
        raise BrokeOff(_unusable(f"the database said: {_first(str(error))}")) from error


def _restored(dump: Path, prepared: Ready, *, at: dt.datetime, jobs: int) -> Restored:
    done = Restored(prepared.manifest)
    _section(prepared, dump, "pre-data", 1)
    guard = -int(at.timestamp())  # never the key of a row that comes with the data
    guarded = ("public", PAUSES) in tables()
    if guarded:
        _guard(guard, at)  # before the first row is there, so that no sender ever finds one without it
    _section(prepared, dump, "data", jobs)
    _section(prepared, dump, "post-data", jobs)
    with transaction.atomic():
        with connection.cursor() as cursor:
            if guarded:
                cursor.execute(f"DELETE FROM {PAUSES} WHERE id = %s", [guard])  # noqa: S608  (a fixed name)
        _held_against(prepared.manifest)
        if guarded:
            _guard(guard, at)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    done.migrated = _migrated()
    with transaction.atomic():
        SendingPause.objects.filter(pk=guard).delete()
        pause_sending(at=at, why=WHY)
    done.faults = _chains_hold(prepared.manifest)
    done.erasures = _replayed(prepared.journals)
    done.seeds = all_kept()
    done.roles = [_granted(role) for role in prepared.manifest.roles]
    return done


def _section(prepared: Ready, dump: Path, section: str, jobs: int) -> None:
    """One part of the dump: tables, rows, and then all that hangs on them. Owners and rights are those of here."""
    arguments = [f"--section={section}", "--no-owner", "--no-privileges", "--exit-on-error", f"--jobs={jobs}"]
    running = start(prepared.program, [*arguments, str(dump)])
    try:
        status, said = running.wait()
    finally:
        running.end()
    if disk_is_full(said):
        raise BrokeOff(_unusable("no space is left on the disk of the server"))
    if status:
        raise BrokeOff(_unusable(f"pg_restore ended with {status}: {_first(said)}"))


def _guard(key: int, at: dt.datetime) -> None:
    with connection.cursor() as cursor:
        cursor.execute(f"INSERT INTO {PAUSES} (id, since, why) VALUES (%s, %s, %s)", [key, at, WHY])  # noqa: S608


def _held_against(manifest: Manifest) -> None:
    """Every table, row and rule of the manifest is here, and no other."""
    settled()
    here = tallies()
    wrong = [f"table {name} is missing" for name in manifest.tables if name not in here]
    wrong += [f"table {name} is in no manifest" for name in here if name not in manifest.tables]
    for name, wanted in manifest.tables.items():
        found = here.get(name, wanted)
        if found.rows != wanted.rows:
            wrong.append(f"table {name} has {found.rows} rows instead of {wanted.rows}")
        elif found != wanted:
            wrong.append(f"table {name} has other rows than were backed up")
    there = rules()
    for kind in sorted(manifest.rules.keys() | there.keys()):
        if manifest.rules.get(kind, 0) != there.get(kind, 0):
            wrong.append(f"{there.get(kind, 0)} of kind {kind} instead of {manifest.rules.get(kind, 0)}")
    _refuse(wrong)


def _chains_hold(manifest: Manifest) -> int:
    """How many faults the medicine records have: every row is as it was backed up, so they were there before."""
    here = {head.keeper: (head.number, head.hash) for head in chain_heads()}
    there = {head["keeper"]: (head["number"], head["hash"]) for head in manifest.chains}
    odd = sorted(keeper for keeper in here.keys() | there.keys() if here.get(keeper) != there.get(keeper))
    _refuse(f"the medicine record of keeper {keeper} ends otherwise than it was backed up" for keeper in odd)
    return sum(1 for _ in all_faults())


def _migrated() -> bool:
    """Bring an older backup to this release; whether there was anything to do."""
    try:
        call_command("migrate", check_unapplied=True, verbosity=0, stdout=StringIO())
    except SystemExit:
        call_command("migrate", interactive=False, verbosity=0, stdout=StringIO())
        return True
    return False


def _replayed(journals: Sequence[Path]) -> str:
    """Forget again whom the backup brought back; and let this host's journal know all of them from now on."""
    if not journals:
        return "nobody had been forgotten"
    out = StringIO()
    try:
        call_command("replay_erasures", *journals, stdout=out)
    except CommandError as error:
        raise BrokeOff(
            _unusable(f"whoever had been forgotten could not be forgotten again. {error}")
        ) from error
    here = Path(settings.ERASURE_JOURNAL)
    known = set(here.read_text().splitlines()) if here.exists() else set()
    new = [line for path in journals for line in path.read_text().splitlines() if line not in known]
    if new:
        here.parent.mkdir(parents=True, exist_ok=True)
        with here.open("a") as file:
            file.writelines(f"{line}\n" for line in dict.fromkeys(new))
    return out.getvalue().splitlines()[-1]


def _granted(role: str) -> str:
    try:
        return f"{role} may use {grant(role)} tables, as before."
    except NotGranted as error:
        return f"{role} was granted nothing. {error} Then: manage.py grant_roles {role}"


def _refuse(wrong: Iterable[str]) -> None:
    found = list(wrong)
    if found:
        more = f" and {len(found) - SHOWN} more" if len(found) > SHOWN else ""
        raise BrokeOff(_unusable("; ".join(found[:SHOWN]) + more))


def _unusable(why: str) -> str:
    return f"The database {connection.settings_dict['NAME']} is not whole, drop it: {why}"


def _first(said: str) -> str:
    lines = [line for line in said.splitlines() if "error" in line.lower()] or said.splitlines()
    return (lines or ["nothing was said"])[0][:300]
