"""The mails themselves keep to people's hours and days, whatever happened before they leave."""

import datetime as dt
import threading
import time
from collections import Counter
from random import Random
from zoneinfo import ZoneInfo

import pytest
from django.db import connections

from apiaries.line import Broken, Line, Outage, Refused
from apiaries.models import Person
from reports import sender
from reports.digests import add_digest
from reports.health import oldest_due
from reports.models import Digest, DigestState, Notice
from reports.planner import plan_notices
from reports.quiet import next_opening
from reports.sender import Outcome, send_due
from tests.reports.treating import at, treated

pytestmark = pytest.mark.usefixtures("reference")
MINUTE = dt.timedelta(minutes=1)
USEFUL = at("12-31")


def _wishes(person, **wishes):
    Person.objects.filter(pk=person.pk).update(**wishes)
    person.refresh_from_db()


def _day(text):
    return dt.date.fromisoformat(f"2026-{text}")


def test_what_is_due_on_a_quiet_day_is_told_on_the_next_with_its_own_day(cast):
    _wishes(cast.alice, quiet_days=[3, 4])  # 20 Aug 2026 is a Thursday
    treated(cast.colonies[:3])
    plan_notices(at=at("08-20", 5))

    digest = Digest.objects.get()
    assert (digest.on, digest.send_at, digest.next_at) == (_day("08-22"), at("08-22", 5), at("08-22", 5))
    assert Notice.objects.get().on == _day("08-20")
    assert [send_due(at=at(day, 10)) for day in ("08-20", "08-21", "08-22")] == [{}, {}, {Outcome.SENT: 1}]


def test_what_is_planned_at_night_leaves_in_the_morning(cast):
    treated(cast.colonies[:3], saved=at("08-24", 20))  # 22:00 in Berlin
    plan_notices(at=at("08-24", 20, 10))

    digest = Digest.objects.get()
    assert (digest.on, digest.next_at) == (_day("08-25"), at("08-25", 5))
    assert oldest_due(at=at("08-25", 4, 59)) is None


def test_what_is_planned_by_day_after_its_hour_is_late_and_leaves_at_once(cast):
    treated(cast.colonies[:3])
    plan_notices(at=at("08-20", 15))

    digest = Digest.objects.get()
    assert (digest.on, digest.send_at, digest.next_at) == (_day("08-20"), at("08-20", 5), at("08-20", 5))
    assert send_due(at=at("08-20", 15)) == {Outcome.SENT: 1}


def test_a_mail_kept_back_into_the_night_waits_for_morning(cast):
    treated(cast.colonies[:3])
    plan_notices(at=at("08-20", 5))

    assert send_due(at=at("08-20", 19)) == {Outcome.QUIET: 1}  # nothing ran until 21:00
    digest = Digest.objects.get()
    assert (digest.next_at, digest.attempts.count()) == (at("08-21", 5), 0)
    assert send_due(at=at("08-21", 5)) == {Outcome.SENT: 1}


def test_a_greylisted_mail_is_not_tried_again_at_night(cast, monkeypatch):
    treated(cast.colonies[:3])
    plan_notices(at=at("08-20", 5))
    monkeypatch.setattr(Line, "hand_over", _raises(Refused(451, "later", address=True)))
    now, tried = at("08-20", 17), []  # from 19:00 on
    for _ in range(8):
        assert send_due(at=now) == {Outcome.LATER: 1}
        tried.append(now)
        now = Digest.objects.get().next_at

    hours = [moment.astimezone(ZoneInfo("Europe/Berlin")).hour for moment in tried]
    assert min(hours) == 7
    assert max(hours) < 21


def _raises(error):
    def hand_over(line, message):
        raise error

    return hand_over


def test_a_wish_said_after_the_mail_was_planned_holds(cast):
    treated(cast.colonies[:3])
    plan_notices(at=at("08-20", 0))
    _wishes(cast.alice, quiet_days=[3], mail_at=dt.time(18))

    assert send_due(at=at("08-20", 5)) == {Outcome.QUIET: 1}
    assert Digest.objects.get().next_at == at("08-21", 16)


def test_what_is_of_no_use_after_the_quiet_days_is_given_up_visibly(cast):
    add_digest(cast.alice, at=at("08-20", 5), useless_after=at("08-20", 22))
    _wishes(cast.alice, quiet_days=[3])

    assert send_due(at=at("08-20", 5)) == {Outcome.QUIET: 1}
    assert Digest.objects.get().next_at == at("08-20", 22)
    assert send_due(at=at("08-20", 22)) == {Outcome.EXPIRED: 1}


def test_a_second_mail_waits_for_another_day(cast):
    treated(cast.colonies[:3])
    plan_notices(at=at("08-20", 5))
    older = Digest.objects.get()
    Digest.objects.create(
        person=cast.alice,
        on=_day("08-17"),
        send_at=at("08-17", 5),
        next_at=at("08-20", 5),
        useless_after=USEFUL,
        message_id="<second>",
    )
    assert send_due(at=at("08-20", 5)) == {Outcome.SENT: 1, Outcome.QUIET: 1}
    assert Digest.objects.get(pk=older.pk).state == DigestState.SENT
    assert Digest.objects.get(message_id="<second>").next_at == at("08-21", 5)


def test_a_day_that_a_mail_belongs_to_or_was_sent_on_gets_no_other(cast):
    def digest(on, sent_at=None):
        Digest.objects.create(
            person=cast.alice,
            on=on,
            send_at=at("08-20", 5),
            next_at=at("08-20", 5),
            useless_after=USEFUL,
            message_id=f"<{on}>",
            state=DigestState.SENT if sent_at else DigestState.DEAD,
            sent_at=sent_at,
        )

    digest(_day("08-10"), at("08-20", 6))
    digest(_day("08-21"))
    add_digest(cast.alice, at=at("08-20", 15), useless_after=USEFUL)

    assert Digest.objects.get(state=DigestState.PENDING).on == _day("08-22")


def _storm(random):
    """A mail server on a bad week: out of reach, busy, refusing, breaking, and now and then at work."""
    left = Counter()

    def hand_over(line, message):
        kind = random.choice(["", "", "", "outage", "later", "broken"])
        line.answered, line.broken = kind in ("", "later"), int(kind == "broken")
        line.trouble = kind
        if kind == "outage":
            raise Outage("out of reach")
        if kind == "later":
            raise Refused(451, "later", address=True)
        if kind == "broken":
            raise Broken("cut")
        left[message.to[0]] += 1

    return hand_over, left


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(3))
def test_a_bad_week_around_clock_changes_keeps_everybodys_hours_and_days(cast, keeper_in, monkeypatch, seed):
    random = Random(seed)
    wishes = {
        "alice": {"time_zone": "Europe/Berlin"},
        "charlie": {"time_zone": "Australia/Lord_Howe", "mail_at": dt.time(22), "quiet_days": [5, 6]},
        "kim": {"time_zone": "Antarctica/Troll", "mail_at": dt.time(2), "quiet_days": [0, 2, 4]},
        "lee": {"time_zone": "Pacific/Chatham", "mail_at": dt.time(18, 15), "quiet_days": [6]},
    }
    yards = [cast.alice_yard, cast.charlie_yard, *keeper_in("Kim", cast.north), *keeper_in("Lee", cast.south)]
    start = random.choice([_day("09-24"), _day("10-01"), _day("10-22")])
    for yard in yards:
        _wishes(yard.keeper, **wishes[yard.keeper.email.partition("@")[0]])
        for number, colony in enumerate(yard.colonies.order_by("pk")[:2]):
            given = start - dt.timedelta(days=14 - 2 * number)
            treated([colony], on=given, saved=dt.datetime.combine(given, dt.time(12), tzinfo=dt.UTC))
    hand_over, left = _storm(random)
    monkeypatch.setattr(Line, "hand_over", hand_over)
    now = dt.datetime.combine(start - dt.timedelta(days=1), dt.time(), tzinfo=dt.UTC)
    for _ in range(160):
        plan_notices(at=now)
        send_due(at=now)
        now += random.choice([17, 45, 61, 200]) * MINUTE

    sent = list(Digest.objects.filter(state=DigestState.SENT).select_related("person"))
    assert len(sent) == sum(left.values()) >= 6
    assert len({digest.person_id for digest in sent}) == 4
    days = Counter()
    for digest in sent:
        person = digest.person
        wish = {"zone": person.time_zone, "mail_at": person.mail_at, "quiet_days": person.quiet_days}
        assert next_opening(digest.sent_at, **wish) == digest.sent_at
        days[person.pk, digest.sent_at.astimezone(ZoneInfo(person.time_zone)).date()] += 1
    assert set(days.values()) == {1}


@pytest.mark.django_db(transaction=True)
@pytest.mark.owner
def test_two_mails_to_one_person_at_the_same_instant_leave_on_two_days(cast, monkeypatch):
    treated(cast.colonies[:3])
    plan_notices(at=at("08-20", 5))
    first = Digest.objects.get()
    second = Digest.objects.create(
        person=cast.alice,
        on=_day("08-17"),
        send_at=at("08-17", 5),
        next_at=at("08-20", 5),
        useless_after=USEFUL,
        message_id="<second>",
    )
    Notice.objects.create(
        person=cast.alice,
        kind="recount_due",
        subject="recount:0",
        on=_day("08-17"),
        planned_at=at("08-17"),
        digest=second,
    )
    both, left = threading.Barrier(2), []
    real = sender._deliver

    def deliver(*args):
        both.wait(10)
        return real(*args)

    def hand_over(line, message):
        left.append(message)
        time.sleep(0.5)

    told = sender.still_to_tell
    monkeypatch.setattr(sender, "_deliver", deliver)
    monkeypatch.setattr(sender, "still_to_tell", lambda digest, at: told(first, at=at))
    monkeypatch.setattr(Line, "hand_over", hand_over)
    tallies = []

    def send():
        tallies.append(send_due(at=at("08-20", 5), limit=1))
        connections.close_all()

    threads = [threading.Thread(target=send) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)

    assert len(left) == 1
    assert sum(tallies, Counter()) == {Outcome.SENT: 1, Outcome.QUIET: 1}
    assert Digest.objects.get(state=DigestState.PENDING).next_at == at("08-21", 5)
