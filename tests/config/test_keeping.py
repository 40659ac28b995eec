"""The drill: a backup while members write, restored into a new database, counted, looked at, and damaged on purpose."""

import datetime as dt
import json
import os
import resource
import shutil
import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as django_settings
from django.core import mail
from django.core.cache import cache
from django.core.management import CommandError, call_command
from django.db import connection, transaction
from django.test import override_settings
from django.urls import reverse
from django.utils import timezone

from apiaries import pooled
from apiaries.actions import ask_to_leave, forget_person
from apiaries.models import How, Person
from apiaries.second_step_seeds import Kept
from config.keeping import manifest as manifests
from config.keeping import programs, taking
from config.keeping.manifest import DUMP, MANIFEST, SUMS, Manifest, sha256
from config.keeping.refusals import BROKE_OFF, REFUSED
from config.keeping.restoring import _chains_hold, _held_against
from config.keeping.tallies import tables
from config.management.commands.restore import about_seeds
from counts.models import MiteSample
from reports import tasks
from reports.backups import failed_since, last_backup
from reports.pausing import open_pause
from tests.apiaries.test_second_step import with_app
from tests.cast import Cast, make_cast
from tests.config.keeping import Writers
from tests.databases import new_database, on, with_tables
from tests.reports.counting import count
from treatments.models import MedicineLink, Treatment

pytestmark = pytest.mark.slow
ENOUGH = 100  # counts before the backup begins


@dataclass(frozen=True)
class Drill:
    """A backup that was made while members wrote, and the database it was restored into."""

    folder: Path
    manifest: Manifest
    database: str
    cast: Cast
    counts: list[int]
    """Keys of counts that were answered for before the backup began."""
    treatments: list[int]
    said: str


def named(name: str) -> str:
    return f"{connection.settings_dict['NAME']}_{name}"


def said(*command: Any, **options: Any) -> str:
    out = StringIO()
    call_command(*command, stdout=out, **options)
    return out.getvalue()


def refused(*command: Any) -> tuple[int, str]:
    """Status and sentence."""
    with pytest.raises(CommandError) as caught:
        said(*command)
    return caught.value.returncode, str(caught.value)


@pytest.fixture(scope="module")
def drill(django_db_setup: Any, django_db_blocker: Any, tmp_path_factory: Any) -> Iterator[Drill]:
    place = tmp_path_factory.mktemp("backups")
    kept = django_settings.ERASURE_JOURNAL
    django_settings.ERASURE_JOURNAL = place / "none.jsonl"
    with django_db_blocker.unblock():
        source, target = named("source"), named("target")
        with new_database(source, with_tables()), on(source):
            call_command("load_reference", verbosity=0)
            cast = make_cast()
            with override_settings(
                SECOND_STEP_KEYS=("a-key-that-nobody-has-when-it-is-restored-0123456789",)
            ):
                with_app(cast.bob)
            with Writers(cast) as writers:
                while len(writers.counts) < ENOUGH and not writers.mistakes:
                    time.sleep(0.05)
                counts, treatments = list(writers.counts), list(writers.treatments)
                taken = taking.take(place, at=timezone.now(), jobs=2)
                after = len(writers.counts)
            assert after > len(counts)  # they went on while it was made
        with new_database(target), on(target):
            words = said("restore", taken.folder / MANIFEST, "--no-later-journal", "--jobs=2")
            yield Drill(taken.folder, taken.manifest, target, cast, counts, treatments, words)
        django_settings.ERASURE_JOURNAL = kept


@pytest.fixture
def rolled_back(drill: Drill) -> Iterator[None]:
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


@pytest.fixture
def copy(drill: Drill, tmp_path: Path) -> Path:
    """The backup, to be damaged."""
    return Path(shutil.copytree(drill.folder, tmp_path / drill.folder.name))


@pytest.fixture
def empty(drill: Drill) -> Iterator[None]:
    """A database without anything."""
    with new_database(f"{drill.database}_e") as name, on(name):
        yield


def test_every_row_is_accounted_for(drill: Drill) -> None:
    here = set(MiteSample.objects.values_list("pk", flat=True))
    assert set(drill.counts) <= here
    assert set(drill.treatments) <= set(Treatment.objects.values_list("pk", flat=True))

    assert f"{drill.manifest.rows} rows of {len(drill.manifest.tables)} tables, each as" in drill.said
    assert drill.manifest.tables["public.counts_mitesample"].rows == len(here)
    assert drill.manifest.rows > 1000
    assert drill.manifest.chains
    assert MedicineLink.objects.count() == drill.manifest.tables["public.treatments_medicinelink"].rows


def test_restore_says_what_to_do_about_seeds_that_are_sealed_otherwise(drill: Drill, settings: Any) -> None:
    assert "1 seeds of second steps are sealed under a key that is not here" in drill.said
    assert about_seeds(Counter({Kept.PLAIN: 2})) == "", "there is no key, so all are as they should be"
    settings.SECOND_STEP_KEYS = ("a-key-that-was-set-after-the-backup-was-made-0123456789",)
    assert about_seeds(Counter({Kept.PLAIN: 2, Kept.EARLIER: 1})).startswith("3 seeds")
    assert about_seeds(Counter({Kept.NEWEST: 2})) == ""


def test_restored_database_is_of_this_release_and_answers(
    rolled_back: None, drill: Drill, client_for: Any
) -> None:
    call_command("migrate", check_unapplied=True, verbosity=0)  # ends the process if there is anything to do
    call_command("verify_medicine_records", stdout=StringIO())
    cache.clear()
    browser = client_for(drill.cast.alice)
    of_alice = MiteSample.objects.filter(pk__in=drill.counts, yard=drill.cast.alice_yard).earliest("pk")
    for page in (
        reverse("apiaries:yard-list"),
        reverse("apiaries:yard-detail", args=[drill.cast.alice_yard.pk]),
        reverse("counts:sample-detail", args=[of_alice.pk]),
        reverse("treatments:medicine-record"),
    ):
        assert browser.get(page).status_code == 200, page
    assert client_for(drill.cast.ines).get(reverse("reports:region-month")).status_code == 200


def test_new_rows_follow_the_restored_ones(rolled_back: None, drill: Drill) -> None:
    highest = max(MiteSample.objects.values_list("pk", flat=True))
    assert count(drill.cast.colony, dt.date(2026, 9, 12), 3).pk > highest


def test_nothing_is_sent_before_somebody_says_so(rolled_back: None, drill: Drill) -> None:
    cache.clear()
    tasks.wake_notices()
    tasks.wake_mails()
    assert mail.outbox == []
    assert "Reminders are paused." in drill.said
    pause = open_pause()
    assert pause is not None
    assert pause.pk > 0
    assert "Reminders leave again" in said("resume_sending")


@pytest.mark.parametrize(
    ("harm", "words"),
    [
        (
            "DELETE FROM counts_mitesampleevent WHERE pgh_id = (SELECT max(pgh_id) FROM counts_mitesampleevent)",
            "rows",
        ),
        ("UPDATE apiaries_yard SET name = 'Hone yard' WHERE name = 'Home yard'", "other rows"),
        ("INSERT INTO reports_heartbeat (name, at) VALUES ('odd', now())", "rows instead of"),
        ("DROP TABLE reports_backuprun", "table public.reports_backuprun is missing"),
        ("CREATE TABLE odd (id int)", "table public.odd is in no manifest"),
        ("ALTER TABLE treatments_medicinelink DISABLE TRIGGER USER", "of kind trigger"),
        ("DROP INDEX reports_digest_pending", "of kind index"),
    ],
)
def test_difference_of_any_kind_is_found(rolled_back: None, drill: Drill, harm: str, words: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM reports_sendingpause")
        _held_against(drill.manifest)  # so far all is well
        cursor.execute(harm)
    with pytest.raises(taking.BrokeOff, match=words):
        _held_against(drill.manifest)


def test_chain_that_was_cut_off_is_found(drill: Drill) -> None:
    assert _chains_hold(drill.manifest) == 0
    last = drill.manifest.chains[-1]
    longer = [*drill.manifest.chains[:-1], last | {"number": last["number"] + 1}]
    with pytest.raises(taking.BrokeOff, match=f"keeper {last['keeper']} ends otherwise"):
        _chains_hold(replace(drill.manifest, chains=longer))


def flip(folder: Path) -> None:
    path = max((folder / DUMP).glob("*.dat.gz"), key=lambda one: one.stat().st_size)
    told = bytearray(path.read_bytes())
    told[len(told) // 2] ^= 1
    path.write_bytes(told)


def largest_emptied(folder: Path) -> None:
    max((folder / DUMP).glob("*.dat.gz"), key=lambda one: one.stat().st_size).write_bytes(b"")


def one_lost(folder: Path) -> None:
    next((folder / DUMP).glob("*.dat.gz")).unlink()


def manifest_touched(folder: Path) -> None:
    path = folder / MANIFEST
    path.write_text(path.read_text().replace('"rows": 0', '"rows": 1', 1))


def other_format(folder: Path) -> None:
    (folder / SUMS).write_bytes(b"\xff")


@pytest.mark.parametrize(
    ("harm", "words"),
    [
        (flip, "is not as it was written"),
        (largest_emptied, "is not as it was written"),
        (one_lost, "is missing"),
        (manifest_touched, "is not as it was written"),
        (other_format, "is damaged"),
        (lambda folder: (folder / SUMS).unlink(), "is no whole backup"),
    ],
)
def test_damaged_copy_is_refused_before_anything_is_written(
    empty: None, copy: Path, harm: Callable[[Path], None], words: str
) -> None:
    harm(copy)
    status, sentence = refused("restore", copy, "--no-later-journal")
    assert (status, tables()) == (REFUSED, [])
    assert words in sentence


def rewritten(folder: Path, **changes: Any) -> None:
    """With sums that fit, as somebody would write who does not know what they carry."""
    told = json.loads((folder / MANIFEST).read_text()) | changes
    told["files"] = {name: sha256(folder / name) for name in told["files"]}
    (folder / MANIFEST).write_text(json.dumps(told))
    sums = told["files"] | {MANIFEST: sha256(folder / MANIFEST)}
    (folder / SUMS).write_text("".join(f"{sum_}  {name}\n" for name, sum_ in sums.items()))


def test_damage_under_fitting_sums_breaks_the_restore_off(empty: None, copy: Path) -> None:
    largest_emptied(copy)
    rewritten(copy)
    status, sentence = refused("restore", copy, "--no-later-journal")
    assert status == BROKE_OFF
    assert "is not whole, drop it" in sentence


def test_backup_of_another_kind_is_refused_with_nothing_written(
    empty: None, copy: Path, drill: Drill, settings: Any
) -> None:
    def refusal(**changes: Any) -> str:
        rewritten(copy, **changes)
        status, sentence = refused("restore", copy, "--no-later-journal")
        assert (status, tables()) == (REFUSED, [])
        return sentence

    ours = [list(one) for one in drill.manifest.migrations]
    assert "of a newer release" in refusal(migrations=[*ours, ["reports", "9999_of_next_year"]])
    assert "the last reports.9999_of_next_year" in refusal(
        migrations=[*ours, ["reports", "9999_of_next_year"]]
    )
    assert "written by a newer Recount" in refusal(migrations=ours, format=2)
    assert "The backup is of PostgreSQL 99" in refusal(format=1, server=99)
    rewritten(copy, server=drill.manifest.server)
    settings.SECRET_KEY = "another" * 9
    assert "under another SECRET_KEY" in refusal()


def test_restore_goes_past_a_pooler(drill: Drill, monkeypatch: pytest.MonkeyPatch) -> None:
    with new_database(f"{drill.database}_p") as name, on(name):
        monkeypatch.setattr(pooled, "SESSION", "SELECT pg_backend_pid() + 1")
        monkeypatch.setitem(connection.settings_dict, "DISABLE_SERVER_SIDE_CURSORS", True)  # said, so let in
        assert (
            "pooler stands before the database" in refused("restore", drill.folder, "--no-later-journal")[1]
        )


def test_restore_wants_a_journal_a_database_and_nobody_in_it(
    drill: Drill, settings: Any, tmp_path: Path
) -> None:
    assert "is not empty" in refused("restore", drill.folder, "--no-later-journal")[1]
    assert "whoever was forgotten after" in refused("restore", drill.folder)[1]
    odd = tmp_path / "odd.jsonl"
    odd.write_text("nobody\n")
    assert "line 1: this is no line" in refused("restore", drill.folder, "--journal", odd)[1]
    assert "name one of them, the newest is" in refused("restore", drill.folder.parent)[1]
    with on(f"{drill.database}_never"):
        assert "There is no database" in refused("restore", drill.folder, "--no-later-journal")[1]
    with new_database(f"{drill.database}_u") as name, on(name):
        from psycopg import connect

        known = {
            one: value
            for one, value in connection.get_connection_params().items()
            if isinstance(value, str | int)
        }
        known.pop("prepare_threshold", None)
        with connect(
            **{one: known[one] for one in ("host", "port", "user", "password", "dbname") if one in known}
        ):
            assert "1 other sessions use" in refused("restore", drill.folder, "--no-later-journal")[1]


def test_who_was_forgotten_since_does_not_come_back(drill: Drill, settings: Any, tmp_path: Path) -> None:
    settings.ERASURE_JOURNAL = tmp_path / "here.jsonl"
    with new_database(f"{drill.database}_f", drill.database) as name, on(name):
        leaving = ask_to_leave(
            person=drill.cast.charlie, how=How.OWN, at=timezone.now(), now=True, by=drill.cast.charlie
        )
        forget_person(leaving=leaving, at=timezone.now())
    journal = settings.ERASURE_JOURNAL
    settings.ERASURE_JOURNAL = tmp_path / "new machine" / "here.jsonl"
    with new_database(f"{drill.database}_f") as name, on(name):
        words = said("restore", drill.folder, "--journal", journal)
        assert "Erasures: 1 in the journal, 1 of them were back" in words
        charlie = Person.objects.get(pk=drill.cast.charlie.pk)
        assert (charlie.name, charlie.forgotten_at is not None) == ("Former member", True)
    assert settings.ERASURE_JOURNAL.read_text() == journal.read_text()


def test_manifest_holds_no_secret(drill: Drill) -> None:
    text = (drill.folder / MANIFEST).read_text()
    password = connection.settings_dict["PASSWORD"]
    assert django_settings.SECRET_KEY not in text
    assert not password or password not in text
    assert oct(drill.folder.stat().st_mode)[-3:] == "700"


def test_backup_is_noted_with_what_became_of_it(drill: Drill, tmp_path: Path) -> None:
    words = said("backup", tmp_path / "kept", "--keep=1")
    run = last_backup()
    assert run is not None
    assert f"{run.rows} rows of" in words
    assert run.bytes == sum(
        path.stat().st_size for path in (tmp_path / "kept").glob("recount-*Z/**/*") if path.is_file()
    )
    assert failed_since(run) is None

    (tmp_path / "file").write_text("")
    status, sentence = refused("backup", tmp_path / "file" / "folder")
    assert (status, "cannot be written to" in sentence) == (REFUSED, True)
    failed = failed_since(run)
    assert failed is not None
    assert failed.why_not == sentence


def test_full_disk_leaves_nothing_behind(drill: Drill, tmp_path: Path) -> None:
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, hard))
    try:
        status, sentence = refused("backup", tmp_path / "small")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert (status, sentence) == (BROKE_OFF, f"No space is left in {tmp_path / 'small'}.")
    assert os.listdir(tmp_path / "small") == [".lock"]


def test_table_that_the_dump_lacks_is_missed(drill: Drill, tmp_path: Path, monkeypatch: Any) -> None:
    def forgetful(program: Any, arguments: list[str]) -> Any:
        return programs.start(program, [*arguments, "--exclude-table-data=apiaries_club"])

    monkeypatch.setattr(taking, "start", forgetful)
    status, sentence = refused("backup", tmp_path)
    assert (status, sentence) == (
        BROKE_OFF,
        "The dump cannot be read, or lacks tables: public.apiaries_club",
    )
    assert list(tmp_path.glob("recount-*")) == []


@pytest.mark.parametrize(
    ("version", "words"),
    [
        ("9.6.24", "the newest pg_dump here is 9.6.24"),
        (None, "No pg_dump is on this machine"),
        ("99.1", None),
    ],
)
def test_old_or_no_pg_dump_is_named(
    drill: Drill, tmp_path: Path, monkeypatch: Any, version: str | None, words: str | None
) -> None:
    if version:
        fake = tmp_path / "pg_dump"
        fake.write_text(f"#!/bin/sh\necho 'pg_dump (PostgreSQL) {version}'\n")
        fake.chmod(0o755)
    monkeypatch.setattr(programs, "_folders", lambda: [str(tmp_path)])
    status, sentence = refused("backup", tmp_path / "kept")
    assert status == REFUSED
    old = drill.manifest.server < programs.TURN  # a newer server takes what a much newer program writes
    assert (words or ("does not go into" if old else "No pg_restore is")) in sentence
    assert not (tmp_path / "kept").exists()


def test_only_one_works_in_a_folder_and_leftovers_go(drill: Drill, tmp_path: Path) -> None:
    with taking._alone_in(tmp_path):
        assert refused("backup", tmp_path) == (REFUSED, f"Another backup into {tmp_path} is at work.")
    (tmp_path / f"recount-20260101T000000Z{taking.PARTIAL}" / "database").mkdir(parents=True)
    said("backup", tmp_path)
    assert len(list(tmp_path.glob("recount-*"))) == 1


def test_oldest_whole_ones_go(tmp_path: Path) -> None:
    names = [f"recount-2026010{day}T000000Z" for day in (1, 2, 3)]
    for name in names:
        (tmp_path / name).mkdir()
        (tmp_path / name / manifests.SUMS).write_text("")
    (tmp_path / "recount-20250101T000000Z").mkdir()  # not whole
    (tmp_path / "mine").mkdir()

    assert [path.name for path in taking.drop_oldest(tmp_path, keep=2)] == names[:1]
    assert sorted(os.listdir(tmp_path)) == ["mine", "recount-20250101T000000Z", *names[1:]]
    assert taking.drop_oldest(tmp_path, keep=2) == []
