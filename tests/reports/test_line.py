"""One line for a run of mails: wiped between them, opened again when it is dead, closed at the end."""

import datetime as dt

import pytest

from reports.models import Digest, DigestState
from reports.planner import plan_notices
from reports.sender import Outcome, send_due
from tests.reports.post_office import open_post_office
from tests.reports.treating import at, treated

DUE = at("08-20", 5)


@pytest.fixture
def office(settings):
    with open_post_office() as post_office:
        settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", post_office.port
        yield post_office


@pytest.fixture
def planned(reference, cast, office, keeper_in):
    """Four mails are due."""
    treated(cast.colonies[:3])
    for yard in (cast.charlie_yard, *keeper_in("Kim", cast.north), *keeper_in("Lee", cast.north)):
        treated(list(yard.colonies.all()))
    assert plan_notices(at=DUE) == 4


def test_a_run_of_mails_goes_over_one_line(planned, office):
    assert send_due(at=DUE) == {Outcome.SENT: 4}
    assert (office.lines, office.goodbyes) == (1, 1)


def test_each_run_has_its_own(planned, office):
    assert send_due(at=DUE, limit=2) == send_due(at=DUE, limit=2) == {Outcome.SENT: 2}
    assert (office.lines, office.goodbyes) == (2, 2)


def test_no_line_is_opened_for_nothing(planned, office):
    assert send_due(at=DUE - dt.timedelta(hours=1)) == {}
    Digest.objects.update(useless_after=DUE)
    assert send_due(at=DUE) == {Outcome.EXPIRED: 4}
    assert office.lines == 0


def test_one_recipient_refused_leaves_nothing_behind_for_the_next(planned, office):
    office.rcpt_answers = {"alice@example.org": "550 5.1.1 nobody"}

    assert send_due(at=DUE) == {Outcome.REFUSED: 1, Outcome.SENT: 3}
    assert office.lines == 1
    others = ["charlie@example.org", "kim@example.org", "lee@example.org"]
    assert sorted(office.recipients) == [[other] for other in others]


def test_a_broken_line_is_opened_anew_for_the_next_mail(planned, office):
    office.breaks = 1

    assert send_due(at=DUE) == {Outcome.LATER: 1, Outcome.SENT: 3}
    assert office.lines == 2


def test_a_line_that_the_server_closed_between_mails_costs_no_mail_its_try(planned, office):
    office.closes_after_each = True

    assert send_due(at=DUE) == {Outcome.SENT: 4}
    assert office.lines == 4


def test_a_server_that_goes_away_between_mails_is_an_outage(planned, office):
    office.greeting_after = 1, "421 4.3.2 closing"
    office.closes_after_each = True

    assert send_due(at=DUE) == {Outcome.SENT: 1, Outcome.OUTAGE: 1}
    assert Digest.objects.filter(state=DigestState.PENDING, next_at=DUE).count() == 3


def test_mails_that_become_files_know_no_line(planned, settings, tmp_path):
    settings.EMAIL_BACKEND = "django.core.mail.backends.filebased.EmailBackend"
    settings.EMAIL_FILE_PATH = tmp_path

    assert send_due(at=DUE) == {Outcome.SENT: 4}
    written = "".join(file.read_text() for file in tmp_path.iterdir())
    assert written.count("\nMessage-ID: ") == 4
