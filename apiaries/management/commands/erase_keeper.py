"""Forgets a person, on the wish that reached whoever runs this server."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from apiaries.actions import LastAdministrator, Rehearsed, ask_to_leave, forget_person, rehearse_forgetting
from apiaries.forgetting.journal import JournalUnwritable
from apiaries.forgetting.wiping import Tally
from apiaries.models import How, Person


class Command(BaseCommand):
    """Without --now the person gets a mail and has the same days to call it off as on the page."""

    help = "Note that a person wants to be forgotten, or forget them now."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--email", required=True, help="The address they sign in with.")
        parser.add_argument("--now", action="store_true", help="At once: there is nothing to call off.")
        parser.add_argument(
            "--dry-run", action="store_true", help="Do it, say what it came to, and undo it: nothing changes."
        )

    def handle(self, *, email: str, now: bool, dry_run: bool, **_: Any) -> None:
        person = Person.objects.filter(email=email.strip().lower(), forgotten_at=None).first()
        if person is None:
            raise CommandError(f"Nobody signs in as {email}.")
        try:
            if dry_run:
                self._rehearse(person)
            elif now:
                self._forget(person)
            else:
                self._note(person)
        except LastAdministrator as club:
            raise CommandError(
                f"{club} would be without an administrator: somebody else must be one first."
            ) from club
        except JournalUnwritable as error:
            raise CommandError(
                f"Nobody was forgotten: the erasure journal cannot be written ({error})."
            ) from error

    def _note(self, person: Person) -> None:
        leaving = ask_to_leave(person=person, how=How.CONSOLE, at=timezone.now(), by=None)
        self.stdout.write(
            f"Person {person.pk} is told by mail, and is forgotten after {leaving.due_at:%Y-%m-%d %H:%M} UTC"
            " unless it is called off."
        )

    def _forget(self, person: Person) -> None:
        at = timezone.now()
        leaving = ask_to_leave(person=person, how=How.CONSOLE, at=at, now=True, by=None)
        self._say(forget_person(leaving=leaving, at=max(at, leaving.due_at)))
        self.stdout.write(f"Person {person.pk} is forgotten.")

    def _rehearse(self, person: Person) -> None:
        try:
            rehearse_forgetting(person=person, at=timezone.now(), by=None)
        except Rehearsed as done:
            self._say(done.tally)
            self.stdout.write(f"This would be changed for person {person.pk}. Nothing was changed.")

    def _say(self, tally: Tally) -> None:
        for table, rows in sorted(tally.items()):
            self.stdout.write(f"  {table}: {rows} rows")
