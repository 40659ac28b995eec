"""How the server stands, for whoever runs it: what each worker did, what waits, what it runs on."""

import datetime as dt
import re

import pytest
from django.core.management import call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext

from apiaries.models import AccountNotice, NoticeKind, Person
from apiaries.notices import OF_USE, tell
from counts.models import ImportBatch
from reports.backups import note_backup, note_failed_backup
from reports.models import Digest, DigestAttempt, DigestState, RegionMonthMark, WorkDone
from reports.pausing import pause_sending
from reports.watched import outbox
from reports.work import KEPT, WORK, note_work, standings
from tests.reports.treating import at

NOW = at("08-20", 9)
PAGE = "/operator/"
MINUTE = dt.timedelta(minutes=1)


@pytest.fixture
def operator(cast):
    Person.objects.filter(pk=cast.zoe.pk).update(is_operator=True)
    return cast.zoe


def _text(client, time_machine, now=NOW):
    time_machine.move_to(now, tick=False)
    page = client.get(PAGE).content.decode().partition("<main")[2].partition("</main>")[0]
    return " ".join(re.sub(r"<[^>]+>", " ", page).split())


def _work(work, host, ago, *, ok=True, took_ms=120):
    note_work(work, host=host, at=NOW - ago, ok=ok, took_ms=took_ms)


def _digest(cast, number, state, **more):
    asked = {
        "on": NOW.date() - dt.timedelta(days=number),
        "send_at": NOW,
        "next_at": NOW,
        "useless_after": NOW,
    }
    return Digest.objects.create(person=cast.alice, state=state, message_id=f"<{number}>", **asked | more)


def test_one_row_for_each_host_and_work(db):
    for minutes, ok in ((30, True), (20, False), (10, True)):
        _work("mails", "work1", minutes * MINUTE, ok=ok, took_ms=minutes)
    _work("mails", "work2", 5 * MINUTE, ok=False)

    rows = WorkDone.objects.values_list("host", "at", "done_at", "done", "failed", "took_ms")
    assert list(rows) == [
        ("work1", NOW - 10 * MINUTE, NOW - 10 * MINUTE, 2, 1, 10),
        ("work2", NOW - 5 * MINUTE, None, 0, 1, 120),
    ]
    (mails,) = (one for one in standings(at=NOW) if one.work == "mails")
    assert (mails.done_at, mails.done, mails.failed, mails.late) == (NOW - 10 * MINUTE, 2, 2, False)


def test_hosts_that_are_gone_are_forgotten(db):
    _work("mails", "container-1", KEPT + MINUTE)
    _work("mails", "container-2", KEPT - MINUTE)
    assert WorkDone.objects.count() == 2
    _work("mails", "container-3", 0 * MINUTE)

    assert list(WorkDone.objects.values_list("host", flat=True)) == ["container-2", "container-3"]


@pytest.mark.parametrize("work", WORK)
def test_work_is_late_from_its_minute_on(db, work):
    _work(work, "work1", WORK[work].late_after)
    assert [one.late for one in standings(at=NOW) if one.work == work] == [False]
    assert [one.late for one in standings(at=NOW + MINUTE) if one.work == work] == [True]


def test_what_was_never_done_is_late_only_where_all_do_it(db):
    late = {one.work for one in standings(at=NOW) if one.late}

    assert late == {"notices", "mails", "region_figures"}


def test_a_deaf_worker_is_seen(operator, client_for, time_machine):
    """It runs, and its last work is an hour old."""
    _work("mails", "work1", 60 * MINUTE)
    text = _text(client_for(operator), time_machine)
    assert "Send mails Late 20 Aug 2026, 10:00 0" in text
    assert (
        "work1, last at work 20 Aug 2026, 10:00 Send mails: done 20 Aug 2026, 10:00, the last run took 120 ms"
        in text
    )

    _work("mails", "work2", 2 * MINUTE)
    assert "Send mails In time 20 Aug 2026, 10:58 0" in _text(client_for(operator), time_machine)


def test_mails_by_reason(cast, operator, client_for, time_machine):
    refused, failed = (_digest(cast, number, DigestState.DEAD) for number in (1, 2))
    for digest, outcomes in ((refused, ("later", "refused", "again")), (failed, ("failed",))):
        for number, outcome in enumerate(outcomes):
            DigestAttempt.objects.create(digest=digest, started_at=NOW + number * MINUTE, outcome=outcome)
    _digest(cast, 3, DigestState.EXPIRED)
    _digest(cast, 4, DigestState.DEAD)
    _digest(cast, 95, DigestState.DEAD)
    _digest(cast, 5, DigestState.PENDING, next_at=NOW - 16 * MINUTE)
    _digest(cast, 6, DigestState.PENDING, next_at=NOW - 14 * MINUTE)
    _digest(cast, 7, DigestState.PENDING, next_at=NOW + MINUTE)

    mails = outbox(at=NOW)
    assert (mails.waiting, mails.due, mails.late) == (3, 2, 1)
    assert mails.given_up == {"refused": 1, "failed": 1, "expired": 1, "other": 1}
    text = _text(client_for(operator), time_machine)
    assert "Waiting 3 Due by now 2, the oldest since 20 Aug 2026, 10:44 Late by 15 minutes or more 1" in text
    assert "1: refused for good by a mail server 1: could not be written 1: could not leave before" in text


def test_mails_about_accounts_count_with_the_others(cast, operator, client_for, time_machine):
    for minutes in (-1, 14, 16):  # one is put off, one due, one late
        notice = tell(NoticeKind.PASSWORD, cast.alice, at=NOW - MINUTE)
        AccountNotice.objects.filter(pk=notice.pk).update(next_at=NOW - minutes * MINUTE)
    for after in (-MINUTE, dt.timedelta(0)):  # one refused, one too late
        gone = tell(NoticeKind.PASSWORD, cast.alice, at=NOW - OF_USE - MINUTE)
        gone.given_up_at, gone.text, gone.html = gone.useless_after + after, "", ""
        gone.save()
    old = tell(NoticeKind.PASSWORD, cast.alice, at=NOW - dt.timedelta(days=95))
    AccountNotice.objects.filter(pk=old.pk).update(given_up_at=old.useless_after, text="", html="")
    tell(NoticeKind.PASSWORD, cast.alice, at=NOW)
    AccountNotice.objects.filter(next_at=NOW).update(sent_at=NOW, text="", html="")

    mails = outbox(at=NOW)

    assert (mails.waiting, mails.due, mails.late) == (3, 2, 1)
    assert mails.given_up == {"refused": 1, "failed": 0, "expired": 1, "other": 0}


def test_a_pause_is_shown_with_its_reason(operator, client_for, time_machine):
    client = client_for(operator)
    assert "Sending" not in _text(client, time_machine)

    pause_sending(at=NOW - MINUTE, why="The data was restored.")

    text = _text(client, time_machine)
    assert "Sending Paused since 20 Aug 2026, 10:59 The data was restored. Nothing leaves until" in text


def test_backups_sheets_marks_and_chains(cast, operator, client_for, time_machine):
    text = _text(client_for(operator), time_machine)
    assert "Last good backup There is none" in text and "Medicine records verified Never" in text
    note_backup(begun_at=NOW - 60 * MINUTE, ended_at=NOW - 50 * MINUTE, bytes_=2048, rows=10)
    note_failed_backup(begun_at=NOW - 20 * MINUTE, ended_at=NOW - 10 * MINUTE, why_not="The disk is full.")
    ImportBatch.objects.create(
        club=cast.club, by=cast.alice, at=NOW - 5 * MINUTE, file_name="x.csv", size=1, sha256="0" * 64
    )
    RegionMonthMark.objects.create(region=cast.north, month=dt.date(2026, 8, 1), marked_at=NOW - 3 * MINUTE)
    _work("medicine_chains", "work1", 7 * MINUTE)

    text = _text(client_for(operator), time_machine)
    assert "Last good backup 20 Aug 2026, 10:00, 2.0" in text
    assert "Failed since 20 Aug 2026, 10:50 The disk is full." in text
    assert "Sheets to be read 1, the oldest since 20 Aug 2026, 10:55" in text
    assert "to be worked out 1, the oldest since 20 Aug 2026, 10:57" in text
    assert "verified 20 Aug 2026, 10:53: nothing was found against them" in text
    _work("medicine_chains", "work1", 6 * MINUTE, ok=False)
    assert "verified 20 Aug 2026, 10:54: something was found" in _text(client_for(operator), time_machine)


def test_versions_and_no_names(cast, operator, client_for, time_machine):
    _digest(cast, 1, DigestState.DEAD)
    text = _text(client_for(operator), time_machine)

    assert re.search(
        r"Recount \d[\d.]* Python 3\.\d+\.\d+ Django 5\.\d\S* PostgreSQL 1\d\.\d+ Last migration \w+\.\d{4}_",
        text,
    )
    for name in (cast.alice.email, cast.alice_yard.name, cast.club.name):
        assert name not in text


def test_queries_do_not_grow_with_rows(cast, operator, client_for, time_machine):
    client = client_for(operator)
    _work("mails", "work0", MINUTE)
    _text(client, time_machine)
    with CaptureQueriesContext(connection) as few:
        _text(client, time_machine)
    for number in range(1, 30):
        for work in WORK:
            _work(work, f"work{number}", MINUTE)
        _digest(cast, number, DigestState.DEAD)
    with CaptureQueriesContext(connection) as many:
        text = _text(client, time_machine)

    assert len(many) == len(few)
    assert text.count("last at work") == 20 and "and 10 more" in text


def test_nobody_else_sees_it(cast, client_for):
    assert client_for(cast.adam).get(PAGE).status_code == 404


def test_commands_of_cron_write_down_what_they_did(reference, cast):
    from config.work_signals import noted

    for arguments in (
        ["send_notices"],
        ["send_notices", "--dry-run"],
        ["refresh_figures", "--all"],
        ["check"],
    ):
        with noted(arguments):
            if arguments[0] != "check":
                call_command(*arguments, verbosity=0)
    with pytest.raises(SystemExit), noted(["verify_medicine_records"]):
        raise SystemExit(1)

    rows = {one.work: (one.done, one.failed) for one in WorkDone.objects.all()}
    assert rows == {
        "notices": (1, 0),
        "mails": (1, 0),
        "account_notices": (1, 0),
        "all_region_figures": (1, 0),
        "medicine_chains": (0, 1),
    }


def test_tasks_of_a_worker_write_down_what_they_did(db, monkeypatch):
    from reports import tasks

    tasks.wake_mails.apply()
    monkeypatch.setattr(tasks, "forget_due", lambda **_: 1 / 0)
    tasks.wake_leavings.apply()

    rows = {one.work: (one.done, one.failed, one.done_at is None) for one in WorkDone.objects.all()}
    assert rows == {"mails": (1, 0, False), "leavings": (0, 1, True)}


def test_each_task_of_the_schedule_is_work():
    from config.celery import app
    from config.work_signals import OF_TASK

    assert {entry["task"] for entry in app.conf.beat_schedule.values()} <= set(OF_TASK)
    assert set(OF_TASK.values()) <= set(WORK)
