"""What the pages show of count weeks and of the club's calendar."""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from apiaries.language import mark_as, month_name, say_as
from apiaries.models import Club, Person
from apiaries.panels import Panel
from apiaries.permissions import Permission
from apiaries.views.asking import today_in
from counts.models import CountWeek
from counts.week_progress import Progress, progress_of

PANEL_ORDER = 5  # before the hints about habits


class WeekState(StrEnum):
    """Where a count week stands on a day."""

    COMING = "coming"
    RUNNING = "running"
    PAST = "past"
    CANCELLED = "cancelled"


STATE_WORDS = {
    WeekState.COMING: mark_as("count week", "Coming"),
    WeekState.RUNNING: mark_as("count week", "Running"),
    WeekState.PAST: mark_as("count week", "Past"),
    WeekState.CANCELLED: mark_as("count week", "Cancelled"),
}


@dataclass(frozen=True, slots=True)
class WeekRow:
    """One count week as the page shows it; no progress for one that has not begun or was cancelled."""

    week: CountWeek
    state: WeekState
    progress: Progress | None
    days_left: int

    @property
    def state_words(self) -> str:
        """Where it stands, as a heading says it."""
        return say_as("count week", STATE_WORDS[self.state])

    @property
    def days(self) -> int:
        """How long it is."""
        return (self.week.last_on - self.week.first_on).days + 1

    @property
    def may_end(self) -> bool:
        """Whether it can still be cancelled."""
        return self.state in (WeekState.COMING, WeekState.RUNNING)


def state_of(week: CountWeek, on: dt.date) -> WeekState:
    """Cancelled, else by its days."""
    if week.cancelled_at is not None:
        return WeekState.CANCELLED
    if on < week.first_on:
        return WeekState.COMING
    return WeekState.RUNNING if on <= week.last_on else WeekState.PAST


def rows_of(club: Club, weeks: Iterable[CountWeek], on: dt.date) -> list[WeekRow]:
    """A row for each, in the order given. Queries do not grow with them."""
    states = {week: state_of(week, on) for week in weeks}
    begun = [week for week, state in states.items() if state in (WeekState.RUNNING, WeekState.PAST)]
    progress = progress_of(club, begun)
    return [
        WeekRow(week, state, progress.get(week.pk), (week.last_on - on).days)
        for week, state in states.items()
    ]


def month_names(months: Sequence[int]) -> list[str]:
    """May, July …: in the order of the year."""
    return [month_name(month) for month in sorted(months)]


def members_weeks_panel(person: Person, club: Club) -> Panel | None:
    """The running or next count week, and the way to all of them, for those who may set one."""
    if not person.can(Permission.COUNT_WEEK_SET):
        return None
    today = today_in(club)
    standing = CountWeek.objects.standing().filter(club=club, last_on__gte=today)
    week = standing.order_by("first_on").first()
    context = {"week": week, "running": week is not None and state_of(week, today) is WeekState.RUNNING}
    return Panel("counts/_weeks_panel.html", PANEL_ORDER, context)
