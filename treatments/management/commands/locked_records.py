"""Medicine records of people who were forgotten, for whoever must show them to an authority."""

import json
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from treatments.models import LockedEntry


class Command(BaseCommand):
    """The list says no name; --show does."""

    help = "List what is kept under lock and until when, or show one entry."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--show", type=int, metavar="NUMBER", help="Print this entry, with the name.")

    def handle(self, *, show: int | None, **_: Any) -> None:
        if show is not None:
            self._show(show)
            return
        for entry in LockedEntry.objects.all():
            self.stdout.write(
                f"{entry.pk}: {entry.kind} of {entry.last_on}, kept until {entry.kept_until}"
                f" ({entry.regime}, {entry.years} years: {entry.source})"
            )
        self.stdout.write(f"{LockedEntry.objects.count()} entries.")

    def _show(self, number: int) -> None:
        entry = LockedEntry.objects.filter(pk=number).first()
        if entry is None:
            raise CommandError(f"No entry {number} is under lock.")
        self.stdout.write(json.dumps(entry.content, ensure_ascii=False, indent=2))
