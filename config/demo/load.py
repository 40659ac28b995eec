"""Loads the whole demo club, once."""

import datetime as dt
from random import Random
from zoneinfo import ZoneInfo

from django.core.cache import cache
from django.db import transaction

from apiaries.actions import set_sharing
from apiaries.models import Club
from apiaries.permissions import Role
from config.demo import scenario
from config.demo.asking import as_if_since, ask_for_counts
from config.demo.bulletins import write_bulletins
from config.demo.people import DemoClub, join, let_in, make_club
from config.demo.seasons import Clock, live_through
from config.demo.showcase import Showcase, make_showcase
from config.demo.visits import make_visits
from reports.figures import recompute_all
from reports.publishing import PUBLISHED_ON, publish_due
from treatments.yard_outlooks import refresh_all_outlooks

SEED = 20260301
KEEPER = "keeper@example.org"
HELPER = "helper@example.org"
LOOP_KEEPER = "practice@example.org"
SEASONS = 3


def is_loaded() -> bool:
    """Whether the demo club is already there."""
    return Club.objects.filter(name=scenario.CLUB).exists()


@transaction.atomic
def load(*, now: dt.datetime, scale: scenario.Scale) -> DemoClub:
    """The club with its seasons, all or nothing. The same day and seed make the same club."""
    random = Random(SEED)  # noqa: S311  (invented bees, no secret)
    clock = Clock(today=now.astimezone(ZoneInfo(scenario.TIME_ZONE)).date(), now=now)
    years = range(clock.today.year - SEASONS + 1, clock.today.year + 1)
    first_day = dt.date(years[0], 3, 1)
    demo = make_club(scale=scale, first_day=first_day, at=now, random=random)
    for place in demo.yards:
        live_through(place, years, clock, random)
    keeper, helper, _ = (
        join(demo.club, name, email, Role.MEMBER, now, demo.administrator)
        for name, email in (("Kim Hazel", KEEPER), ("Lou Larch", HELPER), ("Sage Sorrel", LOOP_KEEPER))
    )
    set_sharing(membership=keeper.memberships.get(), shares_counts=True, by=keeper)
    make_showcase(Showcase(keeper, helper, demo.regions["North Fork"], clock, random))
    let_in([keeper, helper, demo.coordinator, demo.inspector, demo.administrator])
    as_if_since(demo, first_day)
    ask_for_counts(demo, clock)
    make_visits(demo, keeper, clock)
    recompute_all(at=now)
    publish_months(first_day, clock)
    write_bulletins(demo, clock)
    cache.clear()  # what was read at invented moments is nobody's to read now
    refresh_all_outlooks(at=now)
    return demo


def publish_months(first_day: dt.date, clock: Clock) -> None:
    """Each month as if on the day on which it was due."""
    for year in range(first_day.year, clock.today.year + 1):
        for month in range(1, 13):
            day = dt.date(year, month, PUBLISHED_ON)
            if first_day < day <= clock.today:
                publish_due(at=clock.evening_of(day))
