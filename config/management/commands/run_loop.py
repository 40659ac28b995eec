"""Goes once round the loop and prints its five answers."""

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from config.demo.load import is_loaded
from config.demo.loop import go_round


class Command(BaseCommand):
    help = "Count, treat, be asked to recount, learn whether it worked, see the region: on the invented club."

    def handle(self, *args: Any, **options: Any) -> None:
        if settings.SERVED or not is_loaded():
            raise CommandError("This runs on the demo club only. Make it with load_demo.")
        missing = []
        for number, answer in enumerate(go_round(timezone.now()), start=1):
            self.stdout.write(f"{number}. {answer.step}: {answer.text}")
            if not answer.found:
                missing.append(answer.step)
        if missing:
            raise CommandError(f"No answer to: {', '.join(missing)}.")
