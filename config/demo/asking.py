"""What the demo club asks its members for: months for counting, a count week that is over, one that is to come."""

import datetime as dt

from apiaries.actions import set_count_months
from apiaries.models import Club, Membership, Yard
from config.demo.people import DemoClub
from config.demo.seasons import Clock
from counts.week_actions import set_count_week

MONTHS = (5, 7, 10)  # in these the invented keepers count of themselves; see live_through
PAST, COMING = ((6, 27), (7, 5)), ((5, 4), (5, 10))
SET_DAYS_BEFORE = 21


def ask_for_counts(demo: DemoClub, clock: Clock) -> None:
    """The coordinator's doing: of the last early July, and of the next early May."""
    set_count_months(club=demo.club, months=MONTHS, by=demo.coordinator)
    year = clock.today.year
    over = year if dt.date(year, *PAST[1]) < clock.today else year - 1
    coming = year if dt.date(year, *COMING[0]) > clock.today else year + 1
    for (first, last), of_year in ((PAST, over), (COMING, coming)):
        first_on, last_on = dt.date(of_year, *first), dt.date(of_year, *last)
        set_count_week(
            club=demo.club,
            first_on=first_on,
            last_on=last_on,
            at=clock.evening_of(first_on - dt.timedelta(days=SET_DAYS_BEFORE)),
            by=demo.coordinator,
        )


def as_if_since(demo: DemoClub, first_day: dt.date) -> None:
    """Club, members and yards are all made in one go; they count as being there from the first season on."""
    since = dt.datetime.combine(first_day, dt.time(12), tzinfo=dt.UTC)
    Membership.objects.filter(club=demo.club).update(started_at=since)
    Yard.objects.filter(club=demo.club).update(made_at=since)
    Club.objects.filter(pk=demo.club.pk).update(founded_at=since)
