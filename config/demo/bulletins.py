"""The demo club's bulletins: one issued with a foreword, the newest month as a draft."""

import datetime as dt

from config.demo.people import DemoClub
from config.demo.seasons import Clock
from reports.bulletin_actions import issue_bulletin, make_bulletin, mark_of, set_foreword
from reports.models import RegionMonth
from reports.publishing import published_on

FOREWORD = """\
Thank you to everybody who counted, and most of all to those who counted and found none: without you the figures would \
look worse than they are.
The jars, the alcohol and two scales are with the coordinator and can be borrowed. If you have never washed a sample, \
come along to a neighbour's yard first. This club is invented, and so is this foreword."""


def write_bulletins(demo: DemoClub, clock: Clock) -> None:
    """Of the two newest months of which something may be shown; where there are fewer, of fewer."""
    told = RegionMonth.objects.filter(region__club=demo.club, frozen_at__isnull=False, reason="")
    months = sorted(set(told.values_list("month", flat=True)), reverse=True)
    for month in months[1:2]:
        at = clock.evening_of(published_on(month))
        draft = make_bulletin(club=demo.club, month=month, at=at, by=None)
        draft = set_foreword(
            bulletin=draft, foreword=FOREWORD, seen=mark_of(draft), at=at, by=demo.coordinator
        )
        issued_at = min(at + dt.timedelta(days=1), clock.now)
        issue_bulletin(bulletin=draft, seen=mark_of(draft), at=issued_at, by=demo.coordinator)
    for month in months[:1]:
        make_bulletin(club=demo.club, month=month, at=clock.evening_of(published_on(month)), by=None)
