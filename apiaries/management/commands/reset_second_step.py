"""Takes off somebody's second step, for whoever runs this server and knows that it is they who ask."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from apiaries.actions.second_step import NoSecondStep, reset_second_step
from apiaries.models import Person


class Command(BaseCommand):
    """Ask them by another way than the mail that asked for it: who has the mailbox would have the account."""

    help = "Take off the second step of somebody who lost phone and recovery codes. They and their club are told."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("email", help="The address they sign in with.")
        parser.add_argument("--why", required=True, help="Told to them and to the administrators, and kept.")

    def handle(self, *, email: str, why: str, **_: Any) -> None:
        person = Person.objects.filter(email=email.strip().lower(), forgotten_at=None).first()
        if person is None:
            raise CommandError(f"Nobody signs in as {email}.")
        if not why.strip():
            raise CommandError("Say why: --why 'lost the phone, asked by telephone'.")
        try:
            reset_second_step(person=person, why=why, at=timezone.now(), by=None)
        except NoSecondStep as error:
            raise CommandError(f"{email} has no second step set up.") from error
        self.stdout.write(f"The second step of {email} is off, and they are signed out everywhere.")
