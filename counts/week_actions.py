"""The only writers of count weeks and of counts that are left out. Callers have passed a gate first."""

import datetime as dt

from django.db import IntegrityError, transaction

from apiaries.history import action
from apiaries.models import Club, Person, Yard
from apiaries.zones import zone_of
from counts.call_rules import WEEK_DAYS_MAX
from counts.models import CountLeftOut, CountWeek


class Backwards(ValueError):
    """The last day comes before the first."""


class TooLong(ValueError):
    """The window is longer than a count week may be."""


class InThePast(ValueError):
    """The window is over already."""


class Overlaps(ValueError):
    """The club has another count week on one of these days."""


class AlreadyCancelled(ValueError):
    """The count week was cancelled before."""


class AlreadyOver(ValueError):
    """The count week is over: it was asked for, and stays."""


class AlreadyLeftOut(ValueError):
    """Somebody said before that there will be no such count."""


@action
def set_count_week(
    *, club: Club, first_on: dt.date, last_on: dt.date, at: dt.datetime, by: Person
) -> CountWeek:
    """The club counts together on these days. Set twice at the same instant, one of them is refused.

    Errors: Backwards, TooLong, InThePast, Overlaps.
    """
    if last_on < first_on:
        raise Backwards("The last day comes before the first.")
    if (last_on - first_on).days >= WEEK_DAYS_MAX:
        raise TooLong(f"More than {WEEK_DAYS_MAX} days.")
    if last_on < club_day(club, at):
        raise InThePast("The window is over already.")
    week = CountWeek(club=club, first_on=first_on, last_on=last_on, set_at=at, set_by=by)
    try:
        with transaction.atomic():
            week.save()
    except IntegrityError as error:
        if "counts_countweek_one_at_a_time" in str(error):
            raise Overlaps("The club has another count week on one of these days.") from error
        raise
    return week


@action
def cancel_count_week(*, week: CountWeek, why: str, at: dt.datetime, by: Person) -> CountWeek:
    """Nobody is asked any more; that it was set stays to be seen. Errors: AlreadyCancelled, AlreadyOver."""
    locked = CountWeek.objects.select_for_update(of=("self",)).select_related("club").get(pk=week.pk)
    if locked.cancelled_at is not None:
        raise AlreadyCancelled("This count week was cancelled before.")
    if locked.last_on < club_day(locked.club, at):
        raise AlreadyOver("This count week is over.")
    locked.cancelled_at, locked.cancelled_by, locked.cancelled_why = at, by, why.strip()
    locked.save(update_fields=["cancelled_at", "cancelled_by", "cancelled_why"])
    return locked


@action
def leave_out_count(*, yard: Yard, subject: str, why: str, at: dt.datetime, by: Person) -> CountLeftOut:
    """There will be no count this time, for a reason. Errors: AlreadyLeftOut."""
    left_out = CountLeftOut(yard=yard, subject=subject, why=why.strip(), at=at, by=by)
    try:
        with transaction.atomic():
            left_out.save()
    except IntegrityError as error:
        if "counts_countleftout_once" in str(error):
            raise AlreadyLeftOut("Somebody left out this count before.") from error
        raise
    return left_out


def club_day(club: Club, at: dt.datetime) -> dt.date:
    """The calendar date in the club at that moment."""
    return at.astimezone(zone_of(club.time_zone)).date()
