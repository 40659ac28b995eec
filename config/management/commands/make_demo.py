"""All that make demo does to the database, in one process: starting Django five times takes longer than that."""

from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand


class Command(BaseCommand):
    help = (
        "Migrate, load the reference data and the invented club, and go once round the loop. Safe to repeat."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        call_command("migrate", verbosity=0)
        call_command("load_reference", stdout=self.stdout)
        call_command("load_demo", stdout=self.stdout)
        call_command("run_loop", stdout=self.stdout)
