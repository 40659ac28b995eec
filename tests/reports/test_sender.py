"""Mails that are due leave once, over a real SMTP server; none is lost, whatever the server answers."""

import datetime as dt
import os
import signal
import subprocess
import sys
import threading
import time

import pytest
from django.conf import settings
from django.db import connection, connections
from django.test.utils import CaptureQueriesContext

from counts.actions import void_sample
from reports import sender
from reports.models import Digest, DigestAttempt, DigestState, Notice, Suspension
from reports.planner import plan_notices
from reports.sender import Outcome, send_due
from tests.processes import environment
from tests.reports.counting import count
from tests.reports.post_office import open_post_office
from tests.reports.treating import at, treated
from treatments.actions import skip_recount

DUE = at("08-20", 5)


@pytest.fixture
def office(settings):
    with open_post_office() as post_office:
        settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", post_office.port
        yield post_office


@pytest.fixture
def planned(reference, cast, office):
    """Alice's recount is planned, and her mail due."""
    recount = treated(cast.colonies[:3])
    plan_notices(at=DUE)
    return recount


def _attempts():
    return list(DigestAttempt.objects.values_list("outcome", flat=True))


def test_due_mail_is_sent_once(cast, planned, office):
    assert send_due(at=DUE - dt.timedelta(minutes=1)) == {}
    assert send_due(at=DUE) == {Outcome.SENT: 1}
    assert send_due(at=DUE + dt.timedelta(days=1)) == {}

    digest = Digest.objects.get()
    assert (digest.state, digest.sent_at, _attempts()) == (DigestState.SENT, DUE, ["sent"])
    assert [(mail["To"], mail["Message-ID"]) for mail in office.taken] == [
        ("alice@example.org", digest.message_id)
    ]


def test_recount_entered_before_the_mail_goes_withdraws_it(cast, planned, office):
    sample = count(cast.colonies[0], dt.date(2026, 8, 20), 1)
    assert send_due(at=DUE) == {Outcome.EMPTY: 1}

    assert (Digest.objects.get().state, Notice.objects.get().withdrawn_at) == (DigestState.EMPTY, DUE)
    void_sample(sample=sample, why="wrong hive", at=DUE, by=cast.alice)
    assert send_due(at=DUE) == {}
    assert office.taken == []


def test_only_what_still_holds_is_told(cast, planned, office):
    other = treated(cast.colonies[3:5])
    plan_notices(at=DUE)
    skip_recount(recount=planned, why="sold the bees", at=DUE, by=cast.alice)
    send_due(at=DUE)

    assert office.taken[0]["Subject"] == "Recount due: by Thu 3 Sep (2 colonies)"
    assert Notice.objects.get(withdrawn_at=None).subject == f"recount:{other.pk}"


def test_busy_server_is_tried_again_later_and_longer(planned, office):
    office.rcpt_answers["alice@example.org"] = "451 4.7.1 try again later"
    waits, now = [], DUE
    for _ in range(5):
        assert send_due(at=now) == {Outcome.LATER: 1}
        waits.append(Digest.objects.get().next_at - now)
        now = Digest.objects.get().next_at

    for wait, minutes in zip(waits, (1, 5, 30, 120, 360), strict=True):
        assert minutes * 0.5 <= wait / dt.timedelta(minutes=1) <= minutes * 1.5
    office.rcpt_answers.clear()
    assert send_due(at=now) == {Outcome.SENT: 1}
    assert DigestAttempt.objects.first().detail == "451 4.7.1 try again later"


def test_mail_of_no_more_use_is_given_up_visibly(planned, office):
    office.rcpt_answers["alice@example.org"] = "451 4.7.1 try again later"
    send_due(at=DUE)
    assert send_due(at=at("09-04", 22)) == {Outcome.EXPIRED: 1}  # the last useful day, 3 Sep, is over

    assert Digest.objects.get().state == DigestState.EXPIRED
    assert office.taken == []


def test_refused_address_is_suspended_and_left_alone(cast, planned, office):
    office.rcpt_answers["alice@example.org"] = "550 5.1.1 no such mailbox"
    assert send_due(at=DUE) == {Outcome.REFUSED: 1}

    suspension = Suspension.objects.get()
    assert (suspension.person, suspension.email) == (cast.alice, "alice@example.org")
    assert suspension.why == "550 5.1.1 no such mailbox"
    assert Digest.objects.get().state == DigestState.DEAD
    treated(cast.colonies[3:4])
    assert plan_notices(at=at("08-21", 5)) == 0
    assert send_due(at=at("08-21", 5)) == {}


def test_refused_text_does_not_suspend_the_address(planned, office):
    office.data_answer = "554 5.7.1 we do not like it"
    assert send_due(at=DUE) == {Outcome.REFUSED: 1}

    assert Digest.objects.get().state == DigestState.DEAD
    assert not Suspension.objects.exists()


def test_outage_stops_the_run_and_costs_no_attempt(cast, planned, office, settings, reference):
    treated(list(cast.charlie_yard.colonies.all()))
    plan_notices(at=DUE)
    reachable, settings.EMAIL_PORT = settings.EMAIL_PORT, 1  # nobody listens there
    tries = [send_due(at=DUE + dt.timedelta(minutes=minutes)) for minutes in range(0, 60 * 12, 15)]
    assert tries == [{Outcome.OUTAGE: 1}] * len(tries)
    assert {digest.next_at for digest in Digest.objects.all()} == {DUE}

    settings.EMAIL_PORT = reachable
    assert send_due(at=DUE + dt.timedelta(days=1)) == {Outcome.SENT: 2}
    assert all("late" in mail.get_body(("plain",)).get_content() for mail in office.taken)
    assert set(_attempts()) == {"outage", "sent"}


def test_unknown_host_is_an_outage_too(planned, settings):
    settings.EMAIL_HOST = "mail.invalid"  # RFC 2606: never resolves
    assert send_due(at=DUE) == {Outcome.OUTAGE: 1}


def test_a_mail_that_cannot_be_written_stops_no_other(cast, planned, office, monkeypatch):
    treated(list(cast.charlie_yard.colonies.all()))
    plan_notices(at=DUE)
    real = sender.digest_mail

    def breaks_for_alice(digest, told, *, at, **news):
        if digest.person == cast.alice:
            raise ZeroDivisionError
        return real(digest, told, at=at, **news)

    monkeypatch.setattr(sender, "digest_mail", breaks_for_alice)
    now = DUE
    assert send_due(at=now) == {Outcome.FAILED: 1, Outcome.SENT: 1}
    for _ in range(4):
        now = Digest.objects.get(person=cast.alice).next_at
        assert send_due(at=now) == {Outcome.FAILED: 1}
    assert Digest.objects.get(person=cast.alice).state == DigestState.DEAD


def test_a_mail_that_cannot_be_asked_about_stops_no_other(cast, planned, office, monkeypatch):
    treated(list(cast.charlie_yard.colonies.all()))
    plan_notices(at=DUE)
    real = sender.still_to_tell

    def breaks_for_alice(digest, *, at):
        if digest.person == cast.alice:
            raise ZeroDivisionError
        return real(digest, at=at)

    monkeypatch.setattr(sender, "still_to_tell", breaks_for_alice)

    assert send_due(at=DUE) == {Outcome.FAILED: 1, Outcome.SENT: 1}
    assert Digest.objects.get(person=cast.alice).next_at > DUE


def _dies(*_):
    raise SystemExit


def test_a_mail_that_kills_its_sender_goes_behind_the_others(cast, planned, office, monkeypatch):
    treated(list(cast.charlie_yard.colonies.all()))
    plan_notices(at=DUE)
    real = sender._deliver
    monkeypatch.setattr(sender, "_deliver", _dies)
    with pytest.raises(SystemExit):
        send_due(at=DUE)
    monkeypatch.setattr(sender, "_deliver", real)

    assert send_due(at=DUE) == {Outcome.SENT: 1}  # the other one
    assert send_due(at=DUE + dt.timedelta(minutes=1)) == {Outcome.SENT: 1}
    assert sorted(_attempts()) == ["", "sent", "sent"]


def _send_in_a_thread(tally):
    def run():
        tally.append(send_due(at=DUE))
        connections.close_all()

    thread = threading.Thread(target=run)
    thread.start()
    return thread


@pytest.mark.django_db(transaction=True)
@pytest.mark.owner
def test_two_senders_at_once_send_one_mail(reference, cast, office):
    treated(cast.colonies[:3])
    plan_notices(at=DUE)
    office.slow = 0.5
    tallies = []
    threads = [_send_in_a_thread(tallies) for _ in range(4)]
    for thread in threads:
        thread.join(30)

    assert len(office.taken) == 1
    assert sum(tally[Outcome.SENT] for tally in tallies) == 1


@pytest.mark.django_db(transaction=True)
def test_a_kill_between_answer_and_commit_makes_two_copies_at_most(reference, cast, office):
    treated(cast.colonies[:3])
    plan_notices(at=DUE)
    office.slow = 5.0
    child = _start_sender(office.port)
    _wait_until(lambda: office.taken)  # the server has it; nobody here knows
    os.kill(child.pid, signal.SIGKILL)
    child.wait(20)
    assert Digest.objects.get().state == DigestState.PENDING
    office.slow = 0.0
    send_due(at=DUE + dt.timedelta(minutes=2))

    assert len(office.taken) == 2
    assert {mail["Message-ID"] for mail in office.taken} == {Digest.objects.get().message_id}
    assert _attempts() == ["", "sent"]
    assert send_due(at=DUE + dt.timedelta(days=1)) == {}


def _start_sender(port):
    program = (
        "import datetime as dt, django; django.setup(); from reports.sender import send_due;"
        f"send_due(at=dt.datetime.fromisoformat({DUE.isoformat()!r}))"
    )
    surroundings = environment(EMAIL_URL=f"smtp://127.0.0.1:{port}")
    return subprocess.Popen([sys.executable, "-c", program], env=surroundings, cwd=settings.BASE_DIR)


def _wait_until(happened, seconds=20):
    for _ in range(seconds * 20):
        if happened():
            return
        time.sleep(0.05)
    raise AssertionError("it never happened")


def _questions(now):
    with CaptureQueriesContext(connection) as asked:
        assert send_due(at=now, limit=1) == {Outcome.SENT: 1}
    return len(asked)


def test_a_mail_asks_the_database_no_more_for_many_recounts_than_for_one(cast, reference, office, keeper_in):
    treated(cast.colonies[:1])
    for colony in keeper_in("Kim", cast.north)[0].colonies.all():
        treated([colony])
    for yard in keeper_in("Lee", cast.north, yards=3):
        for colony in yard.colonies.all():
            treated([colony])
    plan_notices(at=DUE)
    numbers = [digest.notices.count() for digest in Digest.objects.all()]

    assert numbers == [1, 2, 6]
    assert len({_questions(DUE) for _ in numbers}) == 1
