"""Says who runs this server, or no longer does."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from apiaries.actions import set_operator
from apiaries.models import Person


class Command(BaseCommand):
    """Run at the server's console: no page can do it. Running it again changes nothing and says so."""

    help = "Let a person see which mails of this server wait or failed, or end that."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("email", metavar="E-MAIL", help="The address they sign in with.")
        parser.add_argument("--end", action="store_true", help="They no longer run it.")

    def handle(self, *, email: str, end: bool, **_: Any) -> None:
        person = Person.objects.filter(email=email.strip().lower()).first()
        if person is None:
            raise CommandError(f"Nobody signs in as {email}.")
        changed = set_operator(person=person, is_operator=not end, by=None)
        now = "is no operator of this server" if end else "is an operator of this server"
        self.stdout.write(f"{person.email} {now}{'' if changed else ' already: nothing was changed'}.")
