"""The doorways: schedule, commands; each does the work and says what came of it."""

import datetime as dt
import logging
from io import StringIO

import pytest
from django.core import mail
from django.core.management import call_command

from reports import tasks
from reports.management.commands import send_notices
from reports.models import Digest, Notice, RegionMonth, YardMonth
from tests.reports.counting import count
from tests.reports.treating import at, treated
from treatments.models import YardOutlook


@pytest.fixture
def morning(time_machine):
    """Seven o'clock in Berlin on the day a recount is due."""
    time_machine.move_to(at("08-20", 5, 1))


def _said(*command):
    out = StringIO()
    call_command(*command, stdout=out)
    return out.getvalue()


def test_dry_run_lists_and_changes_nothing(reference, cast, morning):
    treated(cast.colonies[:2])

    assert "to plan: recount_due of 2026-08-20, recount:" in _said("send_notices", "--dry-run")
    assert not Notice.objects.exists()
    assert mail.outbox == []


def test_send_notices_plans_and_sends(reference, cast, morning):
    treated(cast.colonies[:2])

    assert _said("send_notices") == "Planned 1 notices. Mails: 1 sent.\n"
    assert [message.to for message in mail.outbox] == [["alice@example.org"]]
    assert _said("send_notices") == "Planned 0 notices. Mails: none due.\n"


def test_send_notices_says_that_the_mail_server_is_out_of_reach(reference, cast, morning, settings):
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", 1
    treated(cast.colonies[:2])

    assert _said("send_notices").endswith("Mails: 1 outage.\n")
    assert _said("send_notices") == (
        "Planned 0 notices. Mails: none tried, the mail server is out of reach since 2026-08-20 05:01 UTC.\n"
    )


def test_dry_run_lists_what_waits(reference, cast, time_machine):
    time_machine.move_to(at("08-19", 23))
    treated(cast.colonies[:2])
    _said("send_notices")

    assert "from 2026-08-20 05:00 UTC" in _said("send_notices", "--dry-run")


def test_wake_notices_sends_more_than_one_portion(reference, cast, morning, monkeypatch):
    treated(cast.colonies[:2])
    treated(list(cast.charlie_yard.colonies.all()))
    monkeypatch.setattr(tasks, "PORTION", 1)
    tasks.wake_notices()

    assert sorted(message.to[0] for message in mail.outbox) == ["alice@example.org", "charlie@example.org"]
    assert set(Digest.objects.values_list("state", flat=True)) == {"sent"}


@pytest.mark.parametrize("wake", [tasks.wake_notices, lambda: _said("send_notices")])
def test_days_to_count_again_by_are_known_before_mails_are_planned(
    reference, cast, morning, monkeypatch, wake
):
    def planned(**_):
        assert not YardOutlook.objects.filter(stale=True).exists()
        return 0

    assert YardOutlook.objects.filter(stale=True).exists()
    for place in (tasks, send_notices):
        monkeypatch.setattr(place, "plan_notices", planned)
    wake()
    assert YardOutlook.objects.filter(stale=False).exists()


def test_daily_look_names_days_that_had_drifted(reference, cast, caplog):
    count(cast.colony, dt.date(2026, 8, 5), 3)
    tasks.recompute_all_region_figures()
    YardOutlook.objects.filter(yard=cast.alice_yard).update(why_none="no_level")
    with caplog.at_level(logging.ERROR):
        tasks.recompute_all_region_figures()
    assert f"put right: yard {cast.alice_yard.pk}" in caplog.text


def test_wake_mails_sends_what_waits_and_plans_nothing(reference, cast, time_machine):
    time_machine.move_to(at("08-20", 4))
    treated(cast.colonies[:2])
    tasks.wake_notices()
    treated(list(cast.charlie_yard.colonies.all()))
    time_machine.move_to(at("08-20", 5))
    tasks.wake_mails()

    assert [message.to for message in mail.outbox] == [["alice@example.org"]]
    assert Notice.objects.count() == 1


def test_refresh_figures_works_out_what_is_marked(cast):
    count(cast.colony, dt.date(2026, 8, 5), 3)

    assert _said("refresh_figures") == "1 regions and months worked out.\n"
    assert _said("refresh_figures") == "0 regions and months worked out.\n"
    assert RegionMonth.objects.get().samples == 1


def test_full_recount_names_what_had_drifted(cast, caplog):
    count(cast.colony, dt.date(2026, 8, 5), 3)
    _said("refresh_figures")
    YardMonth.objects.update(mites=5)
    assert f"drifted, put right: yard {cast.alice_yard.pk}, 2026-08" in _said("refresh_figures", "--all")

    RegionMonth.objects.filter(part="all").update(mites=5)
    with caplog.at_level(logging.ERROR):
        tasks.recompute_all_region_figures()
    assert "North of Test club, 2026-08, wash all" in caplog.text
