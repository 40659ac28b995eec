"""Makes the invented club."""

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from apiaries.models import Club
from config.demo.load import is_loaded, load
from config.demo.scenario import PASSWORD, Scale
from counts.models import MiteSample
from treatments.models import Treatment


class Command(BaseCommand):
    help = "Make the invented demo club, unless it is there already. Refuses where real clubs are."

    def handle(self, *args: Any, **options: Any) -> None:
        if is_loaded():
            self.stdout.write("The demo club is loaded already.")
            return
        if settings.SERVED or Club.objects.exists():
            raise CommandError(
                "There are real clubs here, or DATABASE_URL is set: the demo needs a place of its own."
            )
        self.stdout.write("Making an invented club: 60 keepers, 140 yards, 900 colonies, three seasons …")
        load(now=timezone.now(), scale=Scale())
        self.stdout.write(
            f"Made {MiteSample.objects.count()} counts and {Treatment.objects.count()} treatments,"
            f" all invented. Sign in as keeper@example.org with {PASSWORD}."
        )
