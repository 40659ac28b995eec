"""What views know of the one who asks. Only here (and in tasks and commands) is it asked what time it is."""

import datetime as dt
from zoneinfo import ZoneInfo

from django.http import HttpRequest
from django.utils import timezone

from apiaries.models import Club, Person, Yard


def person_of(request: HttpRequest) -> Person:
    """The signed-in person; the login middleware lets nobody else through to the views that ask."""
    person = request.user
    if not isinstance(person, Person):
        raise TypeError("A page for strangers asked who is signed in.")
    return person


def today_in(place: Yard | Club | Person) -> dt.date:
    """The calendar day in the yard, at the club, or where the person is."""
    return timezone.now().astimezone(ZoneInfo(place.time_zone)).date()
