"""The first page: one list over all yards, and the ways not to do something now."""

import datetime as dt

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apiaries.actions import add_numbered_colonies, add_yard
from counts.models import CountWeek
from reports.actions import bring_back, put_off
from reports.links import later_url
from reports.models import Notice, PutOff
from reports.planner import plan_notices
from reports.today import item_about, today_list
from tests.cast import STARTED
from tests.reports.counting import count
from tests.reports.treating import GIVEN, at, treated
from treatments.due import Urgency

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("reference")]
ON = dt.date(2026, 8, 22)
NOW = at("08-22", 9)


@pytest.fixture(autouse=True)
def late_august():
    with time_machine.travel(NOW, tick=False):
        yield


def _subjects(person, on=ON):
    listed = today_list(person, on)
    return [one.matter.subject for one in listed.now], [one.matter.subject for one in listed.put_off]


def _week(cast, first, last):
    return CountWeek.objects.create(
        club=cast.club, first_on=first, last_on=last, set_by=cast.dana, set_at=at("08-01")
    )


def test_recounts_and_counts_asked_for_are_on_one_list_late_first(cast):
    late = treated(cast.colonies[:2], on=dt.date(2026, 7, 15), saved=at("07-16"))
    other = add_yard(keeper=cast.alice, region=cast.north, name="Far yard", by=cast.alice)
    add_numbered_colonies(yard=other, first=1, last=3, started_on=STARTED, by=cast.alice)
    week = _week(cast, dt.date(2026, 8, 20), dt.date(2026, 8, 26))

    weeks = [f"week:{week.pk}:{yard.pk}" for yard in (other, cast.alice_yard)]  # by the yards' names
    assert _subjects(cast.alice) == ([f"recount:{late.pk}", *weeks], [])
    urgencies = [one.urgency for one in today_list(cast.alice, ON).now]
    assert urgencies == [Urgency.LATE, Urgency.DUE, Urgency.DUE]


def test_helper_sees_the_same_and_strangers_nothing(cast):
    recount = treated(cast.colonies[:2])

    assert _subjects(cast.bob) == _subjects(cast.alice) == ([f"recount:{recount.pk}"], [])
    assert _subjects(cast.charlie) == _subjects(cast.ines) == ([], [])


def test_one_yard_alone_is_asked_for_by_its_address(cast, client_for):
    treated(cast.colonies[:2])
    other = add_yard(keeper=cast.alice, region=cast.north, name="Far yard", by=cast.alice)
    page = reverse("reports:today")
    whole, far = (client_for(cast.alice).get(page + asked) for asked in ("", f"?yard={other.pk}"))

    assert "Count the yard" in whole.content.decode()
    assert "Nothing is due in this yard" in far.content.decode()
    for hidden in (cast.charlie_yard.pk, 10**9, "x", "9" * 40):
        assert client_for(cast.alice).get(f"{page}?yard={hidden}").status_code == 404


def test_put_off_leaves_the_list_for_three_days_and_the_mail_too(cast):
    recount = treated(cast.colonies[:2])
    subject = f"recount:{recount.pk}"
    plan_notices(at=NOW)
    put_off(person=cast.alice, matter=item_about(cast.alice, subject, ON).matter, at=NOW, by=cast.alice)

    for days in range(3):
        assert _subjects(cast.alice, ON + dt.timedelta(days=days)) == ([], [subject])
        plan_notices(at=NOW + dt.timedelta(days=days))
    assert _subjects(cast.alice, ON + dt.timedelta(days=3)) == ([subject], [])
    plan_notices(at=NOW + dt.timedelta(days=3))
    assert list(Notice.objects.values_list("kind", "on")) == [
        ("recount_due", dt.date(2026, 8, 20)),
        ("recount_due", dt.date(2026, 8, 25)),
    ]


def test_put_off_after_it_was_told_late_is_told_once_more(cast):
    recount = treated(cast.colonies[:2])
    plan_notices(at=at("09-05"))
    item = item_about(cast.alice, f"recount:{recount.pk}", dt.date(2026, 9, 5))
    put_off(person=cast.alice, matter=item.matter, at=at("09-05"), by=cast.alice)
    for day in range(5, 30):
        plan_notices(at=at(f"09-{day:02}"))

    assert list(Notice.objects.values_list("kind", "on")) == [
        ("recount_late", dt.date(2026, 9, 4)),
        ("recount_late", dt.date(2026, 9, 8)),
    ]


def test_putting_off_is_each_persons_own(cast):
    recount = treated(cast.colonies[:2])
    item = item_about(cast.bob, f"recount:{recount.pk}", ON)
    put_off(person=cast.bob, matter=item.matter, at=NOW, by=cast.bob)

    assert _subjects(cast.alice)[0] == [f"recount:{recount.pk}"]
    assert plan_notices(at=NOW) == 1


def test_brought_back_is_on_the_list_and_not_told_again(cast):
    recount = treated(cast.colonies[:2])
    plan_notices(at=NOW)
    item = item_about(cast.alice, f"recount:{recount.pk}", ON)
    put_off(person=cast.alice, matter=item.matter, at=NOW, by=cast.alice)
    assert bring_back(person=cast.alice, subject=item.matter.subject, by=cast.alice)
    assert not bring_back(person=cast.alice, subject=item.matter.subject, by=cast.alice)

    assert _subjects(cast.alice)[0] == [item.matter.subject]
    assert plan_notices(at=NOW) == 0


def test_page_puts_off_and_brings_back(cast, client_for):
    recount = treated(cast.colonies[:2])
    client, subject = client_for(cast.alice), f"recount:{recount.pk}"
    yard = reverse("apiaries:yard-detail", args=[cast.alice_yard.pk])
    answer = client.post(reverse("reports:today-later"), {"subject": subject, "next": yard}, follow=True)

    assert answer.redirect_chain == [(yard, 302)]
    assert "Put off: it comes back on Tue 25 Aug 2026." in answer.content.decode()
    assert "Put off until Tue 25 Aug 2026." in answer.content.decode()
    back = client.post(reverse("reports:today-now"), {"subject": subject, "next": "https://evil.example/"})
    assert back["Location"] == reverse("reports:today")
    assert not PutOff.objects.exists()


@pytest.mark.parametrize("target", ["foo", "?yard=1", "reports:today", "apiaries.views", "//evil.example/"])
def test_an_odd_way_back_leads_to_the_first_page(cast, client_for, target):
    recount = treated(cast.colonies[:2])
    for name in ("reports:today-later", "reports:today-now"):
        answer = client_for(cast.alice).post(
            reverse(name), {"subject": f"recount:{recount.pk}", "next": target}
        )
        assert (answer.status_code, answer["Location"]) == (302, reverse("reports:today"))


def test_what_would_come_back_too_late_cannot_be_put_off(cast, client_for, client):
    week = _week(cast, dt.date(2026, 8, 20), dt.date(2026, 8, 24))
    subject = f"week:{week.pk}:{cast.alice_yard.pk}"
    page = client_for(cast.alice).get(reverse("reports:today")).content.decode()
    assert "Remind me in three days" not in page
    answer = client_for(cast.alice).post(reverse("reports:today-later"), {"subject": subject}, follow=True)
    assert "It cannot wait for three days" in answer.content.decode()
    path = "/" + later_url(cast.alice, subject, at=NOW).partition("//")[2].partition("/")[2]
    assert "It cannot wait for three days" in client.post(path).content.decode()
    assert not PutOff.objects.exists()


def test_late_recount_is_called_late_in_words(cast, client_for):
    treated(cast.colonies[:2], on=dt.date(2026, 7, 15), saved=at("07-16"))
    page = client_for(cast.alice).get(reverse("reports:today")).content.decode()
    assert "Late, it was for Wed 12 Aug 2026 at the latest" in page


def test_nobody_puts_off_what_is_not_on_their_list(cast, client_for):
    recount = treated(cast.colonies[:2])
    for person in (cast.charlie, cast.ines, cast.adam):
        for name in ("reports:today-later", "reports:today-now"):
            answer = client_for(person).post(reverse(name), {"subject": f"recount:{recount.pk}"})
            assert answer.status_code == 404
    for subject in ("", "recount:", "x\0y", "recount:" + "9" * 90):
        answer = client_for(cast.alice).post(reverse("reports:today-later"), {"subject": subject})
        assert answer.status_code == 404
    assert not PutOff.objects.exists()


def test_link_in_a_mail_puts_off_without_signing_in(cast, client):
    recount = treated(cast.colonies[:2])
    path = later_url(cast.alice, f"recount:{recount.pk}", at=NOW).partition("//")[2].partition("/")[2]
    looked = client.get(f"/{path}")
    assert "Nothing has changed yet" in looked.content.decode()
    assert cast.alice_yard.name not in looked.content.decode()
    assert not PutOff.objects.exists()

    for _ in range(2):  # twice is no harm
        answer = client.post(f"/{path}", follow=True)
        assert "Put off until Tue 25 Aug 2026" in answer.content.decode()
    assert "Put off until Tue 25 Aug 2026" in client.get(f"/{path}").content.decode()  # whenever one looks
    assert PutOff.objects.get().until == dt.date(2026, 8, 25)


def test_link_in_a_mail_puts_off_nothing_once_done_or_old_or_sent_elsewhere(cast, client):
    recount = treated(cast.colonies[:2])
    url = later_url(cast.alice, f"recount:{recount.pk}", at=NOW)
    path = "/" + url.partition("//")[2].partition("/")[2]
    count(cast.colonies[0], dt.date(2026, 8, 21), 2)
    assert client.post(path).status_code == 410
    with time_machine.travel(NOW + dt.timedelta(days=46)):
        assert client.post(path).status_code == 404
    cast.alice.email = "moved@example.org"
    cast.alice.save()
    assert client.post(path).status_code == 404
    assert client.post(path.replace("later/", "later/x")).status_code == 404
    assert not PutOff.objects.exists()


def test_clear_date_once_seen_stays_away(cast, client_for):
    recount = treated(cast.colonies[:1], on=GIVEN)
    treatment = recount.treatment
    treatment.withdrawal_days = 16  # to 22 Aug
    treatment.save(update_fields=["withdrawal_days"])
    client = client_for(cast.alice)
    subject = f"clear:{treatment.pk}"
    assert subject in _subjects(cast.alice)[0]
    client.post(reverse("reports:today-later"), {"subject": subject})

    assert [subject in _subjects(cast.alice, ON + dt.timedelta(days=n))[0] for n in range(6)] == [False] * 6


def test_counted_already_asks_for_the_day(cast, client_for):
    treated(cast.colonies[:2])
    page = client_for(cast.alice).get(reverse("reports:today")).content.decode()
    url = f"{reverse('counts:yard-count', args=[cast.alice_yard.pk])}?earlier=1"
    assert url in page
    form = client_for(cast.alice).get(url)
    assert "enter the day on which it was counted" in form.content.decode()
    assert form.context["form"]["sampled_on"].value() is None
    assert "None." not in form.content.decode()
    assert '<details class="settled" open>' in form.content.decode()


def test_list_asks_no_more_for_many_yards_than_for_few(cast, django_assert_num_queries):
    treated(cast.colonies[:1])
    _week(cast, dt.date(2026, 8, 20), dt.date(2026, 8, 26))

    def another(name):
        yard = add_yard(keeper=cast.alice, region=cast.north, name=name, by=cast.alice)
        add_numbered_colonies(yard=yard, first=1, last=2, started_on=STARTED, by=cast.alice)
        return yard

    another("One more")
    with CaptureQueriesContext(connection) as few:
        today_list(cast.alice, ON)
    for number in range(5):
        treated(list(another(f"Yard {number}").colonies.all())[:1])
        another(f"Bare {number}")
    with django_assert_num_queries(len(few)):
        today_list(cast.alice, ON)
