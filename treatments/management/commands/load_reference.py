"""Loads what is published: action levels and ways of treating."""

from typing import Any

from django.core.management.base import BaseCommand

from counts.adding import basis_for
from counts.constants import DEFAULTS
from counts.reference import load_action_levels
from treatments.reference import load_applications


class Command(BaseCommand):
    help = "Load or refresh action levels and ways of treating from fixtures/. Safe to repeat."

    def handle(self, *args: Any, **options: Any) -> None:
        levels, applications = load_action_levels(), load_applications()
        basis_for(DEFAULTS)  # made here, so that the first count of a new version makes no other writer wait
        if options["verbosity"]:
            self.stdout.write(f"{levels} action levels, {applications} ways of treating")
