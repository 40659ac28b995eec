"""Whether this installation can work: everything it needs is tried, and what must be mended is said."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from config.trials import answers


class Command(BaseCommand):
    """Reads and tries; nothing of the site is changed. Status 1 if something must be mended."""

    help = "Try the database, broker, mail server, cache, files and clocks, and say what to mend."
    requires_system_checks: list[str] = []  # each has a line of its own here, with what to do

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--send-to", default="", metavar="E-MAIL", help="also send a mail there")

    def handle(self, *, send_to: str, **_: Any) -> None:
        wrong = 0
        for answer in answers(send_to=send_to):
            if answer.do:
                wrong += not answer.wise
                word = "wise" if answer.wise else "mend this"
                self.stdout.write(f"{word:<9}  {answer.name}: {answer.said}\n           {answer.do}")
            else:
                self.stdout.write(f"ok         {answer.name}: {answer.said}")
            self.stdout.flush()
        if wrong:
            raise CommandError(f"{wrong} to mend.", returncode=1)
        self.stdout.write("Nothing is to be mended.")
