"""Restores a backup into an empty database: status 0 whole, 1 nothing written, 3 begun and not to be used."""

from argparse import ArgumentParser
from collections import Counter
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from apiaries.second_step_seeds import Kept, to_seal
from config.keeping.refusals import Refused
from config.keeping.restoring import restore
from config.management.commands.backup import at_least_one


class Command(BaseCommand):
    """To be run as the owner of the database, with web, worker and beat stopped."""

    help = "Restore a backup into the empty database of DATABASE_URL and count everything again."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "backup", type=Path, metavar="FILE_OR_FOLDER", help="a backup's folder or its manifest"
        )
        parser.add_argument(
            "--journal", type=Path, action="append", default=[], metavar="FILE",
            help="a newer erasure journal than the backup's; again for each host",
        )  # fmt: skip
        parser.add_argument(
            "--no-later-journal", action="store_true", help="nobody was forgotten after the backup"
        )
        parser.add_argument(
            "--jobs", type=at_least_one, default=1, metavar="N", help="tables restored at once"
        )

    def handle(
        self, *, backup: Path, journal: list[Path], no_later_journal: bool, jobs: int, **_: Any
    ) -> None:
        folder = (backup.parent if backup.is_file() else backup).absolute()
        try:
            done = restore(folder, at=timezone.now(), jobs=jobs, journals=journal, later=not no_later_journal)
        except Refused as refused:
            raise CommandError(str(refused), returncode=refused.status) from refused
        manifest = done.manifest
        self.stdout.write(
            f"{manifest.rows} rows of {len(manifest.tables)} tables, each as it was counted when it was backed up"
            f" ({manifest.taken_at}); {len(manifest.chains)} medicine records end as they did."
        )
        if done.faults:
            self.stdout.write(
                f"The medicine records have {done.faults} faults, which were there when it was backed up: see"
                " manage.py verify_medicine_records (and begin_medicine_chains, if that was never said)."
            )
        if done.migrated:
            self.stdout.write(f"Brought from release {manifest.release} to this one.")
        self.stdout.write(f"Erasures: {done.erasures}")
        for sentence in done.roles:
            self.stdout.write(sentence)
        if sentence := about_seeds(done.seeds):
            self.stdout.write(sentence)
        self.stdout.write(
            "Reminders are paused. Look around, then: manage.py resume_sending (--drop-due: see its help)"
        )


def about_seeds(seeds: Counter[Kept]) -> str:
    """What is to be done about seeds of second steps that an older backup brought along; empty where nothing is."""
    if seeds[Kept.UNREADABLE]:
        return (
            f"{seeds[Kept.UNREADABLE]} seeds of second steps are sealed under a key that is not here: put the one of"
            " that time behind the newest in SECOND_STEP_KEY, then say manage.py seal_second_steps."
        )
    if settings.SECOND_STEP_KEYS and (late := to_seal(seeds)):
        return f"{late} seeds of second steps are not under the newest key. Say: manage.py seal_second_steps"
    return ""
