"""What views know of the one who asks. Only here (and in tasks and commands) is it asked what time it is."""

import datetime as dt
from collections.abc import Callable
from functools import wraps
from typing import Any

from allauth.core.ratelimit import consume_or_429
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from apiaries.models import Club, Person, Yard
from apiaries.zones import zone_of


def person_of(request: HttpRequest) -> Person:
    """The signed-in person; the login middleware lets nobody else through to the views that ask."""
    person = request.user
    if not isinstance(person, Person):
        raise TypeError("A page for strangers asked who is signed in.")
    return person


def today_in(place: Yard | Club | Person) -> dt.date:
    """The calendar day in the yard, at the club, or where the person is."""
    return timezone.now().astimezone(zone_of(place.time_zone)).date()


def limited(what: str) -> Callable[[Callable[..., HttpResponse]], Callable[..., HttpResponse]]:
    """Decorate a view: more sends in an hour than ACCOUNT_RATE_LIMITS allows of `what` are refused with 429."""

    def decorate(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
        @wraps(view)
        def limited_view(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            refused = consume_or_429(request, action=what) if request.method == "POST" else None
            return refused if refused is not None else view(request, *args, **kwargs)

        return limited_view

    return decorate
