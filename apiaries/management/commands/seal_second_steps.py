"""Seals the seeds of second steps that were kept before there was a key, or under an earlier one."""

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from apiaries.second_step_seeds import Kept, all_kept, seal_all, to_seal


class Command(BaseCommand):
    """Say it once SECOND_STEP_KEY is set on every host, and again when a new key stands in front of the old one."""

    help = "Seal the seeds of authenticator apps and recovery codes under the newest of SECOND_STEP_KEY."

    def handle(self, **_: Any) -> None:
        if not settings.SECOND_STEP_KEYS:
            raise CommandError("SECOND_STEP_KEY is not set: there is nothing to seal with.")
        before = seal_all()
        self.stdout.write(
            f"Seeds sealed now: {to_seal(before)}, of which {before[Kept.PLAIN]} were in plain text and"
            f" {before[Kept.EARLIER]} under an earlier key. Sealed already: {before[Kept.NEWEST]}."
        )
        now = all_kept()
        if late := to_seal(now):
            raise CommandError(
                f"{late} came in between. Say it once more, before an earlier key is taken away."
            )
        if now[Kept.UNREADABLE]:
            raise CommandError(
                f"{now[Kept.UNREADABLE]} seeds are sealed under a key that is not here. Put it behind the newest in"
                " SECOND_STEP_KEY, or take the second steps of those people off: manage.py reset_second_step."
            )
