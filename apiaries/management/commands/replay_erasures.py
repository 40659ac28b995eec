"""Forgets again whom a restored backup brought back."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from apiaries.actions import forget_again
from apiaries.forgetting.journal import Line, lines
from apiaries.models import Person


class Command(BaseCommand):
    """Run after every restore, before anybody signs in. Running it again changes nothing."""

    help = "Forget again whoever the erasure journal names and the database still knows."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "journals",
            nargs="*",
            type=Path,
            help="Journals of all hosts; without any, the one of the settings.",
        )
        parser.add_argument("--dry-run", action="store_true", help="Only say whom it would forget.")

    def handle(self, *, journals: list[Path], dry_run: bool, **_: Any) -> None:
        try:
            told = list(lines(journals or [Path(settings.ERASURE_JOURNAL)]))
        except (OSError, ValueError) as error:
            raise CommandError(f"Nothing was changed. {error}") from error
        people = Person.objects.in_bulk([line.person for line in told])
        strangers = [line for line in told if line.person in people and not line.is_of(people[line.person])]
        again = [line for line in told if self._is_back(line, people) and line not in strangers]
        for line in again:
            if not dry_run:
                forget_again(person=people[line.person], at=line.at)
            self.stdout.write(f"person {line.person}: {'would be ' if dry_run else ''}forgotten again")
        gone = sum(line.person not in people for line in told)
        self.stdout.write(
            f"{len(told)} in the journal, {len(again)} of them were back, {gone} are not in this database."
        )
        if strangers:
            keys = ", ".join(str(line.person) for line in strangers)
            raise CommandError(
                f"Somebody else has the key of {keys} here, or SECRET_KEY is another: these were not touched."
                " Is this the journal of this database? An old SECRET_KEY belongs into SECRET_KEY_FALLBACKS."
            )

    def _is_back(self, line: Line, people: dict[int, Person]) -> bool:
        return line.person in people and people[line.person].forgotten_at is None
