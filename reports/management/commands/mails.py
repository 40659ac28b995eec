"""How the mails of this server stand, at its console; and one more try for one that was given up."""

import datetime as dt
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from reports.again import Again, send_again
from reports.models import Digest
from reports.operator_page import given_up, given_up_mails, numbers, outages, suspended_addresses
from reports.pausing import open_pause, paused_words

ANSWERS = {
    Again.WAITS: "It waits again and leaves within the person's hours.",
    Again.LIFTED: "It waits again and leaves within the person's hours; their address is no longer suspended.",
    Again.NOT_DEAD: "It was not given up, or waits again already: nothing was changed.",
    Again.NO_USE: "What it tells would come too late by now: it is not sent again.",
}


class Command(BaseCommand):
    help = "List what waits, what was given up and which addresses refuse mail. Times are in UTC."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--again", type=int, metavar="ID", help="let this mail that was given up wait again"
        )

    def handle(self, *, again: int | None, **_: Any) -> None:
        at = timezone.now()
        if again is None:
            self._list(at)
            return
        digest = Digest.objects.filter(pk=again).first()
        if digest is None:
            raise CommandError(f"There is no mail {again}.")
        self.stdout.write(ANSWERS[send_again(digest=digest, at=at, by=None)])

    def _list(self, at: dt.datetime) -> None:
        now = numbers(at=at)
        since = f", the oldest since {_clock(now.oldest)}" if now.oldest else ""
        self.stdout.write(
            f"{now.waiting} waiting, {now.due} of them due{since}; {now.sent_today} sent in a day."
        )
        if pause := open_pause():
            self.stdout.write(paused_words(pause))
        outage, past = outages(at=at)
        if outage is not None:
            self.stdout.write(
                f"No mail can leave since {_clock(outage.since)}: {outage.last_error}"
                f" (asked {outage.tries} times, again at {_clock(outage.next_try_at)})"
            )
        for one in past:
            self.stdout.write(f"out of reach {_clock(one.since)} to {_clock(one.ended_at)}: {one.last_error}")
        for digest in given_up_mails(at=at):
            mail = given_up(digest, at=at, zone="UTC")
            self.stdout.write(
                f"given up: {mail.pk}, {mail.email}, {mail.on}, {', '.join(mail.kinds)}; {mail.why};"
                f" tries: {', '.join(_clock(one.at) for one in mail.tries) or 'none'}"
                f"{'' if mail.may_go_again else '; of no use any more'}"
            )
        for refused in suspended_addresses():
            self.stdout.write(f"suspended: {refused.email} since {_clock(refused.since)}: {refused.why}")


def _clock(moment: dt.datetime | None) -> str:
    return f"{moment:%Y-%m-%d %H:%M}" if moment else "now"
