"""One story through the pages: invited, a yard, washes, a treatment, the recount mail, an after-count, the verdict.

The mails go through a real SMTP server; the clock is moved; nothing is written behind the pages' back except the
four neighbours whose counts make the region's month big enough to be shown.
"""

import datetime as dt
import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from apiaries.actions import add_numbered_colonies, add_yard
from apiaries.models import Club, Colony, Person, Yard
from apiaries.permissions import Role
from counts.actions import NewCount, record_samples
from counts.models import MiteSample
from counts.samples import BeesBy, Method
from reports.figures import refresh_marked
from reports.planner import plan_notices
from reports.sender import send_due
from reports.tasks import wake_region_figures
from tests.cast import PASSWORD, STARTED, Cast, join, make_person
from tests.flows.forms import send
from tests.reports.post_office import PostOffice, open_post_office
from treatments.models import Treatment

pytestmark = [pytest.mark.slow, pytest.mark.django_db(transaction=True)]

BEFORE = (14, 22, 9, 17, 11, 19)
AFTER = (1, 0, 0, 1, 0, 1)


@pytest.fixture
def office(settings: Any) -> Iterator[PostOffice]:
    """A real mail server, and settings that use it."""
    with open_post_office() as office:
        settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", office.port
        yield office


def _at(day: str) -> time_machine.travel:
    return time_machine.travel(dt.datetime.fromisoformat(f"{day}T12:00:00+00:00"), tick=True)


def _link(text: str, start: str) -> str:
    """The first link in a mail whose path begins so."""
    found = re.search(rf"https?://[^/\s]+({start}[^\s]*)", text)
    assert found, text
    return found[1]


def _text(office: PostOffice, to: str) -> str:
    mail = next(mail for mail in reversed(office.taken) if mail["To"] == to)
    plain, html = mail.get_body(("plain",)), mail.get_body(("html",))
    assert plain and html
    return str(plain.get_content())


def _neighbours(cast: Cast, on: dt.date) -> None:
    """Five yards of three other keepers in the same region, counted in the same month."""
    for name, yards in (("Una", 2), ("Vera", 2), ("Will", 1)):
        keeper = join(cast.club, make_person(name), Role.MEMBER)
        for number in range(yards):
            yard = add_yard(keeper=keeper, region=cast.north, name=f"Yard {number}", by=keeper)
            colonies = add_numbered_colonies(yard=yard, first=1, last=3, started_on=STARTED, by=keeper)
            jars = [
                NewCount(colony, Method.ALCOHOL_WASH, on, 4 + number, bees=300, bees_by=BeesBy.VOLUME)
                for colony in colonies
            ]
            record_samples(counts=jars, at=dt.datetime.now(dt.UTC), by=keeper)


def _joins(cast: Cast, office: PostOffice, client_for: Callable[[Person], Client]) -> Client:
    """Gwen is invited by the coordinator and signs up from the mail."""
    invite = reverse("apiaries:invitation-add")
    answer = send(client_for(cast.dana), invite, {"email": "gwen@example.org", "role": "member"})
    assert answer.status_code == 302
    gwen = Client()
    link = _link(_text(office, "gwen@example.org"), "/join/")
    assert gwen.post(link).status_code == 302
    typed = {"email": "gwen@example.org", "name": "Gwen", "password1": PASSWORD}
    assert send(gwen, reverse("account_signup"), typed)["Location"] == reverse("apiaries:yard-list")
    return gwen


def _counts(client: Client, yard: Yard, mites: tuple[int, ...], url: str = "") -> None:
    """A yard's counts, on its own form or on the one that a mail leads to."""
    rows = {
        f"c{colony.pk}-mites": found
        for colony, found in zip(yard.colonies.in_reading_order(), mites, strict=True)
    }
    typed = rows | {"method": "alcohol_wash", "bees_how": "nominal", "bees": 300}
    answer = send(client, url or reverse("counts:yard-count", args=[yard.pk]), typed)
    assert answer.status_code == 302, answer.content.decode()


def test_one_season(
    cast: Cast, reference: None, office: PostOffice, client_for: Callable[[Person], Client]
) -> None:
    with _at("2026-08-01"):
        gwen = _joins(cast, office, client_for)
        typed = {
            "name": "Under the lime",
            "region": cast.north.pk,
            "colonies": "1-6",
            "started_on": "2026-07-01",
        }
        assert send(gwen, reverse("apiaries:yard-add"), typed).status_code == 302
        yard = Yard.objects.get(name="Under the lime")
        assert Colony.objects.filter(yard=yard).count() == 6
        _counts(gwen, yard, BEFORE)
        sample = MiteSample.objects.filter(yard=yard, mites=22).get()
        says = gwen.get(reverse("counts:sample-detail", args=[sample.pk])).content.decode()
        assert "22 in about 300 bees" in says and "above" in says.lower()

    with _at("2026-08-03"):
        add = reverse("treatments:treatment-add", args=[yard.pk]) + "?way=oxalic_vapour_us"
        answer = send(gwen, add, {"on_1": "2026-08-03", "dose_1": 1, "withdrawal_days": 0})
        assert answer.status_code == 302, answer.content.decode()
        treatment = Treatment.objects.get(yard=yard)
        recount = treatment.recount
        assert recount.ideal_on == dt.date(2026, 8, 17)
        early = gwen.get(reverse("treatments:outcome", args=[treatment.pk])).content.decode()
        assert "Too early" in early

    before_mail = len(office.taken)
    with _at("2026-08-17"):
        now = dt.datetime.now(dt.UTC)
        plan_notices(at=now)
        send_due(at=now)
        plan_notices(at=now)
        send_due(at=now)
        assert len(office.taken) == before_mail + 1
        mail = _text(office, "gwen@example.org")
        assert "Under the lime" in mail
        _counts(Client(), yard, AFTER, _link(mail, "/recount/"))  # on a phone that is not signed in
        _neighbours(cast, dt.date(2026, 8, 17))
        verdict = gwen.get(reverse("treatments:outcome", args=[treatment.pk])).content.decode()
        assert "Worked" in verdict or "worked" in verdict
        refresh_marked(at=now)
        region = client_for(cast.dana).get(reverse("reports:region-month")).content.decode()
        assert "North" in region and "6 yards" in region
        Club.objects.update(founded_at=now)

    with _at("2026-08-20"):
        now = dt.datetime.now(dt.UTC)
        plan_notices(at=now)
        send_due(at=now)
        assert len(office.taken) == before_mail + 1, "done: nobody is written to again"

    with _at("2026-09-10"):
        wake_region_figures()
        gwen = client_for(Person.objects.get(email="gwen@example.org"))  # signed in anew, weeks later
        months = gwen.get(reverse("reports:region-month"), follow=True).content.decode()
        assert "North" in months and "published 10 Sep 2026" in months and "5–9 yards" in months
