"""What whoever runs the server sees and may do about mails, on a page and at the console."""

import datetime as dt
import re
import threading
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import connection, connections
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apiaries.line import Line, Refused
from apiaries.models import Person
from reports import sender
from reports.again import Again, send_again
from reports.models import Digest, DigestAttempt, DigestState, Suspension
from reports.planner import plan_notices
from reports.sender import Outcome, send_due
from tests.reports.treating import at, treated

DUE = at("08-20", 5)
PAGE = "/operator/mails/"


@pytest.fixture
def operator(cast):
    """Zoe runs the server; she is an administrator of another club."""
    Person.objects.filter(pk=cast.zoe.pk).update(is_operator=True)
    return cast.zoe


@pytest.fixture
def planned(reference, cast):
    treated(cast.colonies[:3])
    plan_notices(at=DUE)
    return Digest.objects.get()


def _refuse(monkeypatch, *errors):
    """The mail server says these, one after the other, and then takes mail."""
    waiting = list(errors)

    def hand_over(line, message):
        if waiting:
            raise waiting.pop(0)

    monkeypatch.setattr(Line, "hand_over", hand_over)


@pytest.fixture
def dead(planned, monkeypatch):
    """Alice's address was refused for good; from now on the mail server takes everything."""
    _refuse(monkeypatch, Refused(550, "5.1.1 no such mailbox", address=True))
    assert send_due(at=DUE) == {Outcome.REFUSED: 1}
    return planned


def _text(response):
    page = response.content.decode().partition("<main")[2].partition("</main>")[0]
    return " ".join(re.sub(r"<[^>]+>", " ", page).split())


def _said(*command):
    out = StringIO()
    call_command(*command, stdout=out)
    return out.getvalue()


def test_page_shows_numbers_why_and_tries(dead, operator, client_for, time_machine):
    time_machine.move_to(at("08-20", 9))
    text = _text(client_for(operator).get(PAGE))

    assert "Waiting 0 Due by now 0 Sent in the last 24 hours 0 Mail server Nothing known against it" in text
    assert (
        "alice@example.org, 20 Aug 2026 A recount is due. Why: refused for good: 550 5.1.1 no such mailbox."
        in text
    )
    assert "20 Aug 2026, 07:00: refused for good (550 5.1.1 no such mailbox)" in text
    assert "This address is suspended. Sending again also lifts that." in text
    assert "alice@example.org , since 20 Aug 2026, 07:00 550 5.1.1 no such mailbox" in text


def test_page_shows_what_is_due_and_the_circuit(planned, operator, client_for, settings, time_machine):
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", 1
    send_due(at=DUE)
    time_machine.move_to(at("08-20", 5, 30))
    text = _text(client_for(operator).get(PAGE))

    assert "Waiting 1 Due by now 1, the oldest since 20 Aug 2026, 07:00" in text
    assert "Out of reach since 20 Aug 2026, 07:00, asked 1 time, last at 20 Aug 2026, 07:00" in text
    assert "ConnectionRefusedError" in text


def test_page_shows_earlier_outages(planned, operator, client_for, monkeypatch, time_machine):
    sender.note_outage(at=at("08-19", 5), why="no route")
    sender.end_outage(at=at("08-19", 6))
    time_machine.move_to(at("08-20", 5, 30))

    text = _text(client_for(operator).get(PAGE))
    assert "19 Aug 2026, 07:00 to 19 Aug 2026, 08:00 no route" in text


def test_page_names_no_yard_even_where_a_mistake_quotes_it(
    planned, cast, operator, client_for, monkeypatch, time_machine
):
    def breaks(*_, **__):
        raise ValueError(f"cannot write {cast.alice_yard.name}, 12 mites")

    monkeypatch.setattr(sender, "digest_mail", breaks)
    DigestAttempt.objects.bulk_create(
        DigestAttempt(digest=planned, started_at=DUE, outcome="failed") for _ in range(4)
    )
    send_due(at=DUE)
    time_machine.move_to(at("08-20", 9))
    page = client_for(operator).get(PAGE).content.decode()

    assert "could not be written: ValueError" in page
    assert cast.alice_yard.name not in page
    assert "12 mites" not in page


def test_page_lists_given_up_mails_of_90_days_with_constant_queries(
    dead, operator, client_for, time_machine, cast
):
    time_machine.move_to(at("08-21", 9))
    client = client_for(operator)
    with CaptureQueriesContext(connection) as one:
        client.get(PAGE)
    for number, person in enumerate((cast.bob, cast.charlie, cast.dana)):
        digest = Digest.objects.create(
            person=person,
            on=at("08-20").date() - dt.timedelta(days=45 * number),
            send_at=DUE,
            next_at=DUE,
            useless_after=at("08-21", 7),
            state=DigestState.EXPIRED,
            message_id=f"<{number}>",
        )
        DigestAttempt.objects.create(digest=digest, started_at=DUE, outcome="later", detail="451 busy")
    with CaptureQueriesContext(connection) as four:
        text = _text(client.get(PAGE))

    assert len(four) == len(one)
    assert "bob@example.org" in text
    assert "charlie@example.org" in text
    assert "dana@example.org" not in text  # 91 days ago
    assert "Why: could not leave before what it tells was of no use." in text
    assert "it cannot be sent again" in text


def test_send_again_lets_it_wait_lifts_the_suspension_and_says_so(dead, operator, client_for, time_machine):
    time_machine.move_to(at("08-20", 9), tick=False)
    url = reverse("reports:operator-mail-again", args=[dead.pk])
    text = _text(client_for(operator).post(url, follow=True))

    assert (
        "waits again and leaves within their hours. Their address had refused mail and was suspended" in text
    )
    assert not Suspension.objects.exists()
    dead.refresh_from_db()
    assert (dead.state, dead.next_at) == (DigestState.PENDING, at("08-20", 9))
    assert send_due(at=at("08-20", 9)) == {Outcome.SENT: 1}
    tries = DigestAttempt.objects.values_list("outcome", "detail")
    assert list(tries)[1:] == [("again", "asked for by zoe@example.org"), ("sent", "")]

    text = _text(client_for(operator).post(url, follow=True))
    assert "was not given up, or waits again already: nothing was changed" in text
    assert DigestAttempt.objects.count() == 3


def test_send_again_looks_at_a_click_only(dead, operator, client_for):
    assert client_for(operator).get(reverse("reports:operator-mail-again", args=[dead.pk])).status_code == 405
    assert client_for(operator).post(reverse("reports:operator-mail-again", args=[0])).status_code == 404


def test_send_again_keeps_to_the_persons_hours_and_days(dead, cast):
    cast.alice.quiet_days = [4]
    cast.alice.save()

    assert send_again(digest=dead, at=at("08-20", 20), by=None) is Again.LIFTED
    dead.refresh_from_db()
    assert dead.next_at == at("08-22", 5)  # not at night, not on a Friday


def test_send_again_waits_for_the_day_after_todays_mail(dead, cast):
    Digest.objects.create(
        person=cast.alice,
        on=at("08-19").date(),
        send_at=DUE,
        next_at=DUE,
        useless_after=DUE,
        state=DigestState.SENT,
        sent_at=at("08-20", 6),
        message_id="<other>",
    )
    send_again(digest=dead, at=at("08-20", 9), by=None)

    dead.refresh_from_db()
    assert dead.next_at == at("08-21", 5)


@pytest.mark.parametrize("now", [at("09-04", 22), at("09-04", 20)], ids=["over", "over before the next hour"])
def test_send_again_is_refused_when_of_no_use(dead, operator, client_for, time_machine, now):
    Digest.objects.update(useless_after=at("09-04", 22))
    time_machine.move_to(now)
    text = _text(
        client_for(operator).post(reverse("reports:operator-mail-again", args=[dead.pk]), follow=True)
    )

    assert "would come too late by now: it is not sent again" in text
    dead.refresh_from_db()
    assert dead.state == DigestState.DEAD
    assert Suspension.objects.exists()


def test_a_poison_mail_gets_exactly_one_more_try(planned, monkeypatch):
    monkeypatch.setattr(sender, "digest_mail", lambda *_, **__: 1 / 0)
    now = DUE
    for _ in range(5):
        assert send_due(at=now) == {Outcome.FAILED: 1}
        now = max(now, Digest.objects.get().next_at)
    assert Digest.objects.get().state == DigestState.DEAD

    assert send_again(digest=planned, at=now, by=None) is Again.WAITS
    assert send_due(at=now) == {Outcome.FAILED: 1}
    assert send_due(at=now + dt.timedelta(days=1)) == {}
    assert Digest.objects.get().state == DigestState.DEAD


@pytest.mark.django_db(transaction=True)
def test_two_clicks_at_once_are_one(reference, cast, monkeypatch):
    treated(cast.colonies[:3])
    plan_notices(at=DUE)
    _refuse(monkeypatch, Refused(554, "no"))
    send_due(at=DUE)
    together, came_to = threading.Barrier(3), []

    def click():
        together.wait(10)
        came_to.append(send_again(digest=Digest.objects.get(), at=DUE, by=None))
        connections.close_all()

    threads = [threading.Thread(target=click) for _ in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)

    assert sorted(came_to) == [Again.NOT_DEAD, Again.NOT_DEAD, Again.WAITS]
    assert DigestAttempt.objects.filter(outcome="again").count() == 1


# ---------- at the console


def test_mails_lists_what_the_page_shows(dead, time_machine):
    time_machine.move_to(at("08-20", 9))
    sender.note_outage(at=at("08-19", 5), why="no route")
    sender.end_outage(at=at("08-19", 6))
    sender.note_outage(at=at("08-20", 8), why="no name")

    said = _said("mails")
    assert "0 waiting, 0 of them due; 0 sent in a day." in said
    assert (
        "No mail can leave since 2026-08-20 08:00: no name (asked 1 times, again at 2026-08-20 08:01)" in said
    )
    assert "out of reach 2026-08-19 05:00 to 2026-08-19 06:00: no route" in said
    assert (
        f"given up: {dead.pk}, alice@example.org, 2026-08-20, a recount is due; refused for good: 550 5.1.1"
        " no such mailbox; tries: 2026-08-20 05:00\n"
    ) in said
    assert "suspended: alice@example.org since 2026-08-20 05:00: 550 5.1.1 no such mailbox" in said


def test_mails_again_lets_one_wait(dead, time_machine):
    time_machine.move_to(at("08-20", 9))

    assert "their address is no longer suspended" in _said("mails", "--again", str(dead.pk))
    assert "nothing was changed" in _said("mails", "--again", str(dead.pk))
    with pytest.raises(CommandError, match="There is no mail 0"):
        _said("mails", "--again", "0")


def test_make_operator_says_who_it_is_and_ends_it(cast):
    assert _said("make_operator", "Bob@example.org") == "bob@example.org is an operator of this server.\n"
    assert "already: nothing was changed" in _said("make_operator", "bob@example.org")
    assert Person.objects.get(is_operator=True) == cast.bob

    assert (
        _said("make_operator", "bob@example.org", "--end")
        == "bob@example.org is no operator of this server.\n"
    )
    assert not Person.objects.filter(is_operator=True).exists()
    with pytest.raises(CommandError, match="Nobody signs in as nobody@example.org"):
        _said("make_operator", "nobody@example.org")


# ---------- whom it concerns


@pytest.mark.parametrize("page", ["/", "/yards/", "/me/", "/account/email/"])
def test_a_member_whose_address_is_suspended_reads_it_on_every_page(dead, cast, client_for, page):
    told = client_for(cast.alice).get(page).content.decode()

    assert "No mail reaches you: your mail server refused one for good." in told
    assert 'href="/me/#refused"' in told
    assert "No mail reaches you" not in client_for(cast.bob).get(page).content.decode()
    assert "No mail reaches you" not in client_for(None).get("/account/login/").content.decode()


@pytest.mark.parametrize("reader", ["dana", "adam"])
def test_members_page_says_whom_mail_does_not_reach(dead, cast, client_for, reader):
    text = _text(client_for(getattr(cast, reader)).get("/members/"))

    assert "Mail does not reach Alice since 20 Aug 2026." in text
    assert "no such mailbox" not in text


def test_members_page_names_nobody_of_another_club_and_nobody_reached(dead, cast, client_for):
    assert "Mail does not reach" not in _text(client_for(cast.zoe).get("/members/"))
    Suspension.objects.all().delete()
    assert "Mail does not reach" not in _text(client_for(cast.dana).get("/members/"))


def test_the_menu_leads_there_for_the_operator_only(operator, cast, client_for):
    client = client_for(operator)
    assert 'href="/operator/"' in client.get("/me/").content.decode()
    assert f'href="{PAGE}"' in client.get("/operator/").content.decode()
    assert "/operator/" not in client_for(cast.adam).get("/me/").content.decode()
