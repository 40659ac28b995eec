"""An outage of the mail server: one sender asks now and then, no try is spent, and the first answer ends it."""

import datetime as dt
import logging
import threading

import pytest
from django.db import IntegrityError, connections, transaction

from reports import circuit
from reports.circuit import open_outage
from reports.health import oldest_due
from reports.models import Digest, DigestAttempt, DigestState, MailOutage
from reports.planner import plan_notices
from reports.sender import Outcome, send_due
from tests.reports.post_office import open_post_office
from tests.reports.treating import at, treated

DUE = at("08-20", 5)
MINUTE = dt.timedelta(minutes=1)
OUTAGE = {Outcome.OUTAGE: 1}


@pytest.fixture
def office(settings):
    with open_post_office() as post_office:
        settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", post_office.port
        yield post_office


def _plan(cast):
    treated(cast.colonies[:3])
    treated(list(cast.charlie_yard.colonies.all()))
    plan_notices(at=DUE)


@pytest.fixture
def planned(reference, cast, office):
    """Alice's and Charlie's mails are due."""
    _plan(cast)


@pytest.fixture
def down(settings, planned):
    """Nobody listens; call what comes to mend it."""
    reachable, settings.EMAIL_PORT = settings.EMAIL_PORT, 1

    def mend():
        settings.EMAIL_PORT = reachable

    return mend


def _rows():
    return list(Digest.objects.order_by("pk").values()), list(DigestAttempt.objects.order_by("pk").values())


def test_while_it_lasts_other_senders_touch_nothing(down, django_assert_num_queries):
    assert send_due(at=DUE) == OUTAGE
    before = _rows()

    with django_assert_num_queries(2):  # is sending paused, and does the outage go on
        assert send_due(at=DUE + MINUTE * 0.9) == {}

    assert _rows() == before
    assert {digest.next_at for digest in Digest.objects.all()} == {DUE}


def test_it_is_asked_again_after_one_two_five_and_then_every_ten_minutes(down):
    now, waits = DUE, []
    for _ in range(6):
        assert send_due(at=now) == OUTAGE
        waits.append(MailOutage.objects.get().next_try_at - now)
        now += waits[-1]

    for wait, minutes in zip(waits, (1, 2, 5, 10, 10, 10), strict=True):
        assert minutes * MINUTE <= wait <= minutes * MINUTE * 1.3
    outage = MailOutage.objects.get()
    assert (outage.since, outage.tries, outage.ended_at) == (DUE, 6, None)
    assert outage.last_tried_at == now - waits[-1]
    assert "ConnectionRefusedError" in outage.last_error
    assert set(DigestAttempt.objects.values_list("outcome", flat=True)) == {"outage"}


def test_first_mail_that_leaves_ends_it_and_the_rest_follow(down, office):
    send_due(at=DUE)
    down()
    later = DUE + MINUTE * 2

    assert send_due(at=later) == {Outcome.SENT: 2}
    assert (MailOutage.objects.get().ended_at, open_outage()) == (later, None)
    assert len(office.taken) == 2


def test_a_recipients_refusal_ends_it_too(down, office):
    office.rcpt_answers = {"alice@example.org": "451 4.7.1 later", "charlie@example.org": "451 4.7.1 later"}
    send_due(at=DUE)
    down()

    assert send_due(at=DUE + MINUTE * 2) == {Outcome.LATER: 2}
    assert open_outage() is None


def test_a_recipients_refusal_begins_none(planned, office):
    office.rcpt_answers = {"alice@example.org": "421 4.7.0 too many for this mailbox"}

    assert send_due(at=DUE) == {Outcome.LATER: 1, Outcome.SENT: 1}
    assert not MailOutage.objects.exists()


def test_past_ones_are_kept(down, settings):
    send_due(at=DUE)
    down()
    send_due(at=DUE + MINUTE * 2)
    Digest.objects.update(state=DigestState.PENDING, sent_at=None)
    settings.EMAIL_PORT = 1
    send_due(at=DUE + MINUTE * 5)

    ended = MailOutage.objects.order_by("since").values_list("since", "ended_at")
    assert list(ended) == [(DUE, DUE + MINUTE * 2), (DUE + MINUTE * 5, None)]


@pytest.mark.parametrize(
    "answer", ["421 4.3.2 service not available", "452 4.3.1 no room", "550 5.7.1 not you"]
)
def test_a_sender_refused_is_an_outage(planned, office, answer):
    office.mail_answer = answer

    assert send_due(at=DUE) == OUTAGE
    assert MailOutage.objects.get().last_error == answer
    assert {digest.next_at for digest in Digest.objects.all()} == {DUE}


def test_a_server_that_hangs_up_at_once_is_an_outage(planned, office):
    office.greeting = "421 4.3.2 service not available"

    assert send_due(at=DUE) == OUTAGE
    assert MailOutage.objects.get().last_error == "421 4.3.2 service not available"


def test_a_password_refused_is_an_outage(planned, office, settings):
    settings.EMAIL_HOST_USER, settings.EMAIL_HOST_PASSWORD = "recount", "wrong"  # this server knows no AUTH

    assert send_due(at=DUE) == OUTAGE
    assert open_outage() is not None
    assert office.goodbyes == 1  # the half-open line was ended, too


def test_a_mail_too_big_for_the_server_is_that_mails_trouble(planned, office):
    office.mail_answer = "552 5.3.4 too big"

    assert send_due(at=DUE) == {Outcome.REFUSED: 2}
    assert not MailOutage.objects.exists()


def test_a_line_that_breaks_counts_for_the_mail_in_flight_only(planned, office):
    office.breaks = 1

    assert send_due(at=DUE) == {Outcome.LATER: 1, Outcome.SENT: 1}
    assert not MailOutage.objects.exists()


def test_a_line_that_breaks_three_times_in_a_row_is_the_servers_trouble(cast, planned, office, keeper_in):
    for name in ("Kim", "Lee"):
        treated(list(keeper_in(name, cast.north)[0].colonies.all()))
    plan_notices(at=DUE)
    office.breaks = 99

    assert send_due(at=DUE) == {Outcome.LATER: 3}
    assert "SMTPServerDisconnected" in MailOutage.objects.get().last_error
    assert send_due(at=DUE + MINUTE * 30) == {Outcome.LATER: 1}  # one asks
    office.breaks = 0
    assert send_due(at=DUE + MINUTE * 60) == {Outcome.SENT: 4}


def _said(caplog):
    return [record.message for record in caplog.records if record.name.startswith("reports.")]


def test_it_is_said_in_the_log_at_its_beginning_and_end_only(down, caplog):
    with caplog.at_level(logging.INFO, logger="reports"):
        for minutes in range(0, 100, 10):
            send_due(at=DUE + MINUTE * minutes)
        assert [said[:24] for said in _said(caplog)] == ["no mail can be sent: Con"]
        down()
        send_due(at=DUE + MINUTE * 120)
        send_due(at=DUE + MINUTE * 121)

    assert _said(caplog)[1:] == [f"mails leave again; none could since {DUE}"]


def test_a_clock_that_ran_ahead_does_not_keep_it_open(down):
    send_due(at=DUE)
    MailOutage.objects.update(next_try_at=DUE + dt.timedelta(days=1))
    down()

    assert send_due(at=DUE + MINUTE) == {Outcome.SENT: 2}


def test_nobody_asks_while_nothing_is_due(down):
    send_due(at=DUE)
    Digest.objects.update(next_at=DUE + dt.timedelta(days=1))

    assert send_due(at=DUE + MINUTE * 5) == {}
    assert MailOutage.objects.get().tries == 1


def test_mails_that_wait_for_morning_keep_the_health_page_red(down):
    send_due(at=DUE)
    night = at("08-20", 20)
    assert send_due(at=night) == {Outcome.QUIET: 2}

    assert Digest.objects.first().next_at == at("08-21", 5)
    assert oldest_due(at=night) == DUE
    down()
    send_due(at=at("08-21", 5))
    assert oldest_due(at=at("08-21", 5)) is None


def test_an_outage_with_nothing_waiting_is_nobodys_alarm(down):
    send_due(at=DUE)
    Digest.objects.update(state=DigestState.EMPTY)

    assert oldest_due(at=DUE + MINUTE * 60) is None


def test_only_one_can_be_open(db):
    rows = {"since": DUE, "last_tried_at": DUE, "next_try_at": DUE, "tries": 1, "last_error": "no"}
    MailOutage.objects.create(**rows)
    with pytest.raises(IntegrityError, match="reports_mailoutage_one_open"), transaction.atomic():
        MailOutage.objects.create(**rows)
    MailOutage.objects.update(ended_at=DUE)
    MailOutage.objects.create(**rows)


@pytest.mark.django_db(transaction=True)
@pytest.mark.owner
def test_of_many_senders_one_asks(reference, cast, office, settings, monkeypatch):
    _plan(cast)
    settings.EMAIL_PORT = 1
    send_due(at=DUE)
    settings.EMAIL_PORT, office.mail_answer = office.port, "421 4.3.2 not yet"
    together = threading.Barrier(4)
    real = circuit.due_digests
    monkeypatch.setattr(circuit, "due_digests", lambda now: together.wait(10) and real(now) or real(now))
    tallies = []

    def ask():
        tallies.append(send_due(at=DUE + MINUTE * 5))
        connections.close_all()

    threads = [threading.Thread(target=ask) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)

    assert sorted(tally.total() for tally in tallies) == [0, 0, 0, 1]
    assert MailOutage.objects.get().tries == 2
