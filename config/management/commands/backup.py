"""Backs the database up into a folder: status 0 whole, 1 not begun, 3 broke off and nothing of it left."""

from argparse import ArgumentParser, ArgumentTypeError
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import Error as DatabaseError
from django.utils import timezone

from config.keeping.refusals import Refused
from config.keeping.taking import drop_oldest, take
from reports.backups import note_backup, note_failed_backup


def at_least_one(text: str) -> int:
    if not text.isdigit() or int(text) < 1:
        raise ArgumentTypeError(f"{text!r} is no whole number from 1 on")
    return int(text)


class Command(BaseCommand):
    """The site keeps running meanwhile."""

    help = "Dump the database into a new folder inside FOLDER, with the numbers a restore is held against."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", type=Path, metavar="FOLDER")
        parser.add_argument("--keep", type=at_least_one, metavar="N", help="then remove all but the N newest")
        parser.add_argument("--jobs", type=at_least_one, default=1, metavar="N", help="tables dumped at once")

    def handle(self, *, folder: Path, keep: int | None, jobs: int, **_: Any) -> None:
        begun_at = timezone.now()
        try:
            taken = take(folder.absolute(), at=begun_at, jobs=jobs)
        except Refused as refused:
            self._note_failed(begun_at, str(refused))
            raise CommandError(str(refused), returncode=refused.status) from refused
        rows = taken.manifest.rows
        note_backup(begun_at=begun_at, ended_at=timezone.now(), bytes_=taken.bytes, rows=rows)
        tables = len(taken.manifest.tables)
        self.stdout.write(f"{taken.folder}: {rows} rows of {tables} tables, {taken.bytes} bytes.")
        for gone in drop_oldest(folder.absolute(), keep=keep) if keep else ():
            self.stdout.write(f"Removed {gone}.")

    def _note_failed(self, begun_at: Any, why: str) -> None:
        try:
            note_failed_backup(begun_at=begun_at, ended_at=timezone.now(), why_not=why)
        except DatabaseError:
            self.stderr.write("That could not be noted in the database either.")
