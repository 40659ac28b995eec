"""Who asks for what: people who are signed in, their yards, and evenings on which nobody has counted yet.

Run by itself with the settings of the served site, it prints all as JSON.
"""

import datetime as dt
import json
import os
import re
import sys
from collections import defaultdict
from collections.abc import Iterable
from itertools import islice
from typing import Any

PEOPLE, TOKENS = 150, 12
BACK = 60
"""Days before today that counts are logged for: a colony has one count a day at most, else it would be asked about."""
BEES, USUAL, MOST_MITES = 300, 0.01, 20
JARS = ("alcohol_wash", "soap_wash", "sugar_roll")
SURE = re.compile(r'name="sure" value="([^"]+)"')
"""The word for what a form asks about; sent with it, the answer is yes."""
CSRF = "loadloadloadloadloadloadloadload"  # as long as Django's


def make_world(*, at: dt.datetime) -> dict[str, Any]:
    """Sign people in, give them tokens and calendars, and tell all that a load needs to know as plain values."""
    from allauth.mfa.models import Authenticator
    from django.conf import settings

    from apiaries.actions.tokens import make_token
    from apiaries.api.scopes import Scope
    from apiaries.models import Person, Yard
    from apiaries.permissions import Role
    from apiaries.second_step import lacks_second_step
    from reports.actions import make_calendar_feed
    from reports.presenters import years_of

    coordinator = Person.objects.filter(memberships__role=Role.COORDINATOR).earliest("pk")
    if lacks_second_step(coordinator):
        Authenticator.objects.create(user=coordinator, type=Authenticator.Type.TOTP, data={"secret": ""})
    club = coordinator.memberships.get().club
    yards = Yard.objects.filter(club=club, closed_on=None)
    keepers = list(
        Person.objects.filter(pk__in=yards.values("keeper"), memberships__club=club).order_by("pk")[:PEOPLE]
    )
    own = defaultdict(list)
    for yard in yards.filter(keeper__in=keepers).order_by("pk"):
        own[yard.keeper_id].append({"pk": yard.pk, "name": yard.name})
    people = [
        {
            "pk": one.pk,
            "cookie": signed_in(one),
            "yards": own[one.pk],
            "feed": make_calendar_feed(person=one, yard=None, at=at, by=one),
        }
        for one in keepers
    ]
    for one, told in zip(keepers[:TOKENS], people, strict=False):
        scopes = [Scope.YARDS_READ, Scope.COUNTS_READ, Scope.COUNTS_WRITE]
        told["token"] = make_token(person=one, name="load", scopes=scopes, days=30, at=at, by=one)[1]
    region = club.regions.filter(yards__isnull=False).order_by("name").first()
    assert region is not None, "There is no region with a yard."
    return {
        "session": settings.SESSION_COOKIE_NAME,
        "csrf": settings.CSRF_COOKIE_NAME,
        "people": people,
        "coordinator": {"cookie": signed_in(coordinator)},
        "region": {"pk": region.pk, "name": region.name},
        "year": (_newest_count() or at.date()).year,
        "years": years_of(club, at.date())[:3],
        "evenings": list(_evenings(keepers, at.date())),
    }


def signed_in(person: Any) -> str:
    """The cookie of a browser in which the person is signed in."""
    from django.conf import settings
    from django.test import Client

    client = Client()
    client.force_login(person, backend=settings.AUTHENTICATION_BACKENDS[0])
    return client.cookies[settings.SESSION_COOKIE_NAME].value


def _newest_count() -> dt.date | None:
    from counts.models import MiteSample

    return MiteSample.objects.order_by("-sampled_on").values_list("sampled_on", flat=True).first()


def _evenings(keepers: Iterable[Any], today: dt.date) -> Iterable[dict[str, Any]]:
    """Yards with their colonies on days without counts, today first: who counts, which colonies, on which day."""
    from apiaries.models import Colony
    from counts.models import MiteSample

    place = {one.pk: number for number, one in enumerate(keepers)}
    colonies = defaultdict(list)
    # About as many mites as last time: what is far from it is asked about, and so are very many.
    last = MiteSample.objects.filter(yard__keeper__in=place, method__in=JARS, rate__isnull=False)
    last = last.order_by("colony", "-sampled_on", "-pk")
    rates = dict(last.distinct("colony").values_list("colony", "rate"))
    for colony in (
        Colony.objects.living()
        .filter(yard__keeper__in=place, started_on__lte=today - dt.timedelta(days=BACK))
        .order_by("yard", "number")
    ):
        mites = round(BEES * (rates.get(colony.pk) or USUAL))
        if mites <= MOST_MITES:
            colonies[colony.yard_id].append({"pk": colony.pk, "name": colony.name, "mites": mites})
    keeper = dict(Colony.objects.filter(yard__in=colonies).values_list("yard", "yard__keeper"))
    since = today - dt.timedelta(days=BACK)
    counted = set(
        MiteSample.objects.filter(yard__in=colonies, sampled_on__gte=since).values_list("yard", "sampled_on")
    )
    for days in range(1, BACK):  # yesterday is over in every zone
        day = today - dt.timedelta(days=days)
        for yard, there in colonies.items():
            if (yard, day) not in counted:
                yield {
                    "person": place[keeper[yard]],
                    "yard": yard,
                    "day": day.isoformat(),
                    "colonies": list(islice(there, 12)),
                }


def main() -> None:
    import django

    django.setup()
    from django.utils import timezone

    json.dump(make_world(at=timezone.now()), sys.stdout)


if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    main()
