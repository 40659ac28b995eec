"""The outbox gets every notice that is owed, once, in the mail of the person's day."""

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from apiaries.actions import end_colony, end_membership, update_person
from counts.actions import void_sample
from reports import planner
from reports.models import Digest, DigestState, Notice, Suspension
from reports.owed import owed_notices
from reports.planner import _plan, plan_notices
from tests.reports.counting import count
from tests.reports.treating import GIVEN, at, treated
from treatments.actions import cancel_treatment, skip_recount

pytestmark = pytest.mark.usefixtures("reference")


def _planned():
    return list(Notice.objects.order_by("pk").values_list("kind", "on", "digest__on"))


def _day(text):
    return dt.date.fromisoformat(f"2026-{text}")


def _person(person, **changes):
    wishes = ("name", "time_zone", "language", "mail_at", "wants_mail", "wants_calls", "wants_bulletins")
    fields = {name: getattr(person, name) for name in (*wishes, "quiet_days")}
    return update_person(person=person, by=person, **(fields | changes))


def test_nothing_is_planned_before_its_day(cast):
    treated(cast.colonies[:3])

    assert plan_notices(at=at("08-19", 21, 59)) == 0  # 23:59 in Berlin
    assert plan_notices(at=at("08-19", 22, 1)) == 1  # past midnight there
    assert _planned() == [("recount_due", _day("08-20"), _day("08-20"))]


def test_mail_leaves_at_the_persons_hour_in_their_zone(cast):
    _person(cast.alice, time_zone="Pacific/Auckland", mail_at=dt.time(6, 30))
    treated(cast.colonies[:3])
    plan_notices(at=at("08-19", 13))

    digest = Digest.objects.get()
    assert (digest.on, digest.send_at) == (_day("08-20"), at("08-19", 18, 30))  # UTC+12 in August
    assert digest.next_at == digest.send_at


def test_a_thymol_gel_is_announced_and_then_due(cast):
    out_on = GIVEN + dt.timedelta(days=2)  # the recount: from day 14 after it, best on day 18, to day 28
    recount = treated(cast.colonies[:3], out_on=out_on, way="thymol_gel_gb")
    soon = recount.ideal_on - dt.timedelta(days=3)
    for day in range(20):
        plan_notices(at=dt.datetime.combine(soon, dt.time(5), tzinfo=dt.UTC) + dt.timedelta(days=day))
        Digest.objects.filter(state=DigestState.PENDING).update(state=DigestState.EMPTY)

    late = recount.latest_on + dt.timedelta(days=1)
    expected = [("recount_soon", soon), ("recount_due", recount.ideal_on), ("recount_late", late)]
    assert [(kind, on) for kind, on, _ in _planned()] == expected


def test_late_is_told_once_and_then_it_stops(cast):
    treated(cast.colonies[:3])
    for day in range(40):
        plan_notices(at=at("08-20", 5) + dt.timedelta(days=day))
        Digest.objects.filter(state=DigestState.PENDING).update(state=DigestState.EMPTY)

    assert [(kind, on) for kind, on, _ in _planned()] == [
        ("recount_due", _day("08-20")),
        ("recount_late", _day("09-04")),
    ]


def test_planning_twice_is_harmless(cast):
    treated(cast.colonies[:3])

    assert [plan_notices(at=at("08-20", 5)), plan_notices(at=at("08-20", 5, 15))] == [1, 0]
    assert (Notice.objects.count(), Digest.objects.count()) == (1, 1)


def test_a_planner_that_comes_late_with_the_same_list_adds_no_empty_mail(cast):
    recount = treated(cast.colonies[:3])
    owed = owed_notices(at=at("08-20", 5))
    plan_notices(at=at("08-20", 5))
    Digest.objects.update(state=DigestState.SENT, sent_at=at("08-20", 5))

    assert [one.subject for one in owed] == [f"recount:{recount.pk}"]
    assert _plan(cast.alice, owed, at=at("08-20", 5), before=None) == 0
    assert Digest.objects.count() == 1


def test_a_treatment_saved_after_the_mail_hour_is_mailed_the_same_day(cast):
    treated(cast.colonies[:3], saved=at("08-24", 15))  # written down four days into its window
    plan_notices(at=at("08-24", 15, 10))

    digest = Digest.objects.get()
    assert (digest.on, digest.send_at <= at("08-24", 15, 10)) == (_day("08-24"), True)


def test_after_todays_mail_a_further_notice_waits_for_tomorrows(cast):
    treated(cast.colonies[:1])
    plan_notices(at=at("08-20", 5))
    Digest.objects.update(state=DigestState.SENT, sent_at=at("08-20", 5))
    treated(cast.colonies[1:2], saved=at("08-20", 15))
    plan_notices(at=at("08-20", 15, 10))

    assert [digest_on for _, _, digest_on in _planned()] == [_day("08-20"), _day("08-21")]
    assert Digest.objects.get(on=_day("08-21")).send_at == at("08-21", 5)


def test_a_standstill_of_days_ends_in_one_mail(cast):
    treated(cast.colonies[:1])
    treated(cast.colonies[1:2], on=dt.date(2026, 8, 7))
    treated(cast.colonies[2:3], on=dt.date(2026, 8, 8))
    plan_notices(at=at("08-25", 9))  # nothing ran since the 19th

    assert Digest.objects.get().on == _day("08-25")
    assert [on for _, on, _ in _planned()] == [_day("08-20"), _day("08-21"), _day("08-22")]


def test_a_mail_that_could_not_leave_takes_the_next_days_notices_along(cast):
    treated(cast.colonies[:1])
    treated(cast.colonies[1:2], on=dt.date(2026, 8, 7))
    plan_notices(at=at("08-20", 5))
    plan_notices(at=at("08-21", 5))

    digest = Digest.objects.get()
    assert digest.notices.count() == 2
    assert digest.useless_after == at("09-04", 22)  # the end of 4 Sep in Berlin


def _count_it(cast, recount):
    count(cast.colonies[1], _day("08-21"), 2)


def _skip_it(cast, recount):
    skip_recount(recount=recount, why="sold the bees", at=at("08-19"), by=cast.alice)


def _cancel_it(cast, recount):
    cancel_treatment(treatment=recount.treatment, why="not done", at=at("08-19"), by=cast.alice)


def _leave(cast, recount):
    end_membership(membership=cast.alice.memberships.get(), at=at("08-19"), by=cast.alice)


def _want_none(cast, recount):
    _person(cast.alice, wants_mail=False)


def _refused(cast, recount):
    Suspension.objects.create(person=cast.alice, email=cast.alice.email, why="550", since=at("08-19"))


def _lose_colonies(cast, recount):
    for colony in cast.colonies[:3]:
        end_colony(colony=colony, ended_on=_day("08-18"), why="died out", by=cast.alice)


@pytest.mark.parametrize(
    "meanwhile", [_count_it, _skip_it, _cancel_it, _leave, _want_none, _refused, _lose_colonies]
)
def test_nothing_is_planned_once_it_is_of_no_concern(cast, meanwhile):
    recount = treated(cast.colonies[:3])
    meanwhile(cast, recount)

    assert plan_notices(at=at("08-22", 5)) == 0
    assert not Digest.objects.exists()


def test_a_count_too_early_or_elsewhere_is_no_recount(cast):
    treated(cast.colonies[:3])
    count(cast.colonies[0], _day("08-19"), 2)
    count(cast.colonies[5], _day("08-21"), 2)  # was not treated
    voided = count(cast.colonies[1], _day("08-21"), 2)
    void_sample(sample=voided, why="wrong hive", at=at("08-21"), by=cast.alice)

    assert plan_notices(at=at("08-22", 5)) == 1


def test_nobody_is_asked_to_recount_while_something_is_in_the_hive(cast):
    recount = treated(cast.colonies[:3], way="thymol_gel_gb")

    for day in (recount.earliest_on, recount.ideal_on, recount.latest_on):
        plan_notices(at=dt.datetime.combine(day, dt.time(5), tzinfo=dt.UTC))
    assert [kind for kind, *_ in _planned() if kind.startswith("recount")] == []


def test_one_persons_trouble_keeps_nobody_waiting_and_is_not_forgotten(cast, monkeypatch):
    treated(cast.colonies[:1])
    treated(list(cast.charlie_yard.colonies.all()))
    real = planner.add_digest

    def breaks_for_alice(person, **more):
        if person == cast.alice:
            raise ZeroDivisionError
        real(person, **more)

    monkeypatch.setattr(planner, "add_digest", breaks_for_alice)
    assert plan_notices(at=at("08-20", 5)) == 1
    assert (Notice.objects.get().person, planner.last_run()) == (cast.charlie, None)

    monkeypatch.setattr(planner, "add_digest", real)
    assert plan_notices(at=at("08-20", 6)) == 1
    assert planner.last_run() == at("08-20", 6)


def test_the_heartbeat_only_goes_forward(cast):
    plan_notices(at=at("08-20", 5))
    plan_notices(at=at("08-19", 5))

    assert planner.last_run() == at("08-20", 5)


def test_helpers_and_others_hear_nothing(cast):
    treated(cast.colonies[:3])
    plan_notices(at=at("08-20", 5))

    assert [notice.person for notice in Notice.objects.all()] == [cast.alice]


@pytest.mark.parametrize(
    ("zone", "day", "hour", "utc"),
    [
        ("Europe/Berlin", "03-29", dt.time(2, 30), at("03-29", 1)),  # that time does not exist
        ("Europe/Berlin", "10-25", dt.time(2, 30), at("10-25", 0, 30)),  # that time comes twice
        ("Australia/Lord_Howe", "10-04", dt.time(2, 10), at("10-03", 15, 30)),
        ("Australia/Lord_Howe", "04-05", dt.time(1, 40), at("04-04", 14, 40)),
    ],
)
def test_one_mail_on_the_day_clocks_change(cast, zone, day, hour, utc):
    _person(cast.alice, time_zone=zone, mail_at=hour)
    on = _day(day)
    given = on - dt.timedelta(days=14)
    cast.alice_yard.time_zone = zone
    cast.alice_yard.save()
    treated(cast.colonies[:1], on=given, saved=dt.datetime.combine(given, dt.time(12), tzinfo=dt.UTC))
    moment = dt.datetime.combine(on - dt.timedelta(days=1), dt.time(0), tzinfo=dt.UTC)
    for look in range(30):
        plan_notices(at=moment + dt.timedelta(hours=2 * look))

    assert [(digest.on, digest.send_at) for digest in Digest.objects.all()] == [(on, utc)]


def test_planning_asks_no_more_for_many_recounts_than_for_few(cast, django_assert_num_queries):
    treated(cast.colonies[:1])
    with CaptureQueriesContext(connection) as one:
        plan_notices(at=at("08-20", 5))
    for colony in cast.colonies[1:]:
        treated([colony])
    with django_assert_num_queries(len(one) - 2):  # no mail has to be made this time
        plan_notices(at=at("08-20", 5))
