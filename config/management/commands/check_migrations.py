"""`manage.py check_migrations`: the migrations since the last release, held against rules; runs none of them."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection
from django.db.migrations.loader import MigrationLoader

from config.migration_reading import OURS, RELEASED, read_all

HEADING = "# Migrations of the last release, written by: manage.py check_migrations --release\n"


class Command(BaseCommand):
    help = "Reads the migrations since the last release: would anybody wait, would the last release's code break?"

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--release", action="store_true", help="note all migrations there are as released"
        )

    def handle(self, *args: Any, release: bool = False, **options: Any) -> None:
        if release:
            keys = sorted(key for key in MigrationLoader(None).disk_migrations if key[0] in OURS)
            RELEASED.write_text(HEADING + "".join(f"{app}.{name}\n" for app, name in keys))
            self.stdout.write(f"{len(keys)} migrations noted as released.")
            return
        wrong = 0
        read = list(read_all(connection))
        for name, found in read:
            for one in found:
                wrong += 1
                self.stdout.write(f"{name}: {one.rule}: {one.what}")
                if one.statement:
                    self.stdout.write(f"    {one.statement[:200]}")
        if wrong:
            raise CommandError(f"{wrong} to mend in migrations: docs/how-to/write-a-migration.md says how.")
        self.stdout.write(f"{len(read)} migrations since the last release, nothing to mend.")
