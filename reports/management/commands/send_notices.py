"""Plans and sends the daily mails now: what the schedule does, for a cron job or a look."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from apiaries.notices_sender import send_account_notices
from reports.bulletin_notices import plan_bulletins
from reports.circuit import open_outage
from reports.models import Digest, DigestState
from reports.owed import owed_notices
from reports.pausing import open_pause, paused_words
from reports.planner import found_paused, plan_notices, unplanned
from reports.sender import send_due
from reports.visit_notices import plan_visit_notices
from treatments.yard_outlooks import BEFORE_MAILS, refresh_all_outlooks


class Command(BaseCommand):
    help = "Plan the notices that are owed and send the mails that are due."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--dry-run", action="store_true", help="only list what would be planned and sent")

    def handle(self, *, dry_run: bool, **_: Any) -> None:
        at = timezone.now()
        if dry_run:
            self._list(at)
            return
        pause = open_pause()
        if pause is not None:
            found_paused(at=at)
            self.stdout.write(paused_words(pause))
            return
        refresh_all_outlooks(at=at, most=BEFORE_MAILS)
        planned = plan_notices(at=at) + plan_bulletins(at=at) + plan_visit_notices(at=at)
        tally = send_due(at=at)
        about_accounts = send_account_notices(at=at)
        came_to = ", ".join(f"{number} {outcome}" for outcome, number in sorted(tally.items()))
        self.stdout.write(f"Planned {planned} notices. Mails: {came_to or self._none_left()}.")
        if about_accounts:
            self.stdout.write(f"Mails about changes of accounts: {about_accounts} sent.")

    def _none_left(self) -> str:
        outage = open_outage()
        if outage is None:
            return "none due"
        return f"none tried, the mail server is out of reach since {outage.since:%Y-%m-%d %H:%M} UTC"

    def _list(self, at: Any) -> None:
        for owed in unplanned(owed_notices(at=at)):
            self.stdout.write(
                f"to plan: {owed.kind} of {owed.due.on}, {owed.subject}, to {owed.person.email}"
            )
        waiting = Digest.objects.filter(state=DigestState.PENDING).select_related("person")
        for digest in waiting:
            when = "due now" if digest.next_at <= at else f"from {digest.next_at:%Y-%m-%d %H:%M} UTC"
            self.stdout.write(f"to send: mail of {digest.on} to {digest.person.email}, {when}")
