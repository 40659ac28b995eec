"""A pause: nothing of restored data is sent before the operator says so."""

import datetime as dt
from io import StringIO
from typing import Any

import pytest
from django.core import mail
from django.core.cache import cache
from django.core.management import call_command
from django.test import Client

from reports import tasks
from reports.models import Digest, DigestState, Notice, SendingPause
from reports.pausing import open_pause, pause_sending
from reports.planner import last_run, last_tick, plan_notices
from reports.sender import send_due
from tests.cast import Cast
from tests.reports.treating import at, treated

MORNING = at("08-20", 5, 1)
"""Seven o'clock in Berlin on the day a recount is due."""


@pytest.fixture
def paused(reference: None, cast: Cast, time_machine: Any) -> Cast:
    time_machine.move_to(MORNING)
    treated(cast.colonies[:2])
    pause_sending(at=MORNING, why="The data was restored.")
    return cast


def said(*command: str) -> str:
    out = StringIO()
    call_command(*command, stdout=out)
    return out.getvalue()


def test_nothing_is_planned_or_sent_by_any_doorway(paused: Cast) -> None:
    tasks.wake_notices()
    tasks.wake_mails()
    assert "Sending is paused since 2026-08-20 05:01 UTC: The data was restored." in said("send_notices")
    assert not Notice.objects.exists()

    plan_notices(at=MORNING)  # as if the backup had been made with a mail waiting
    tasks.wake_notices()
    assert send_due(at=MORNING).total() == 0
    assert mail.outbox == []
    assert "Sending is paused" in said("mails")


def test_after_resuming_what_is_owed_leaves(paused: Cast) -> None:
    plan_notices(at=MORNING)
    assert said("resume_sending") == "Reminders leave again; 1 mails are due by now.\n"
    tasks.wake_notices()

    assert [message.to for message in mail.outbox] == [["alice@example.org"]]
    assert said("resume_sending") == "Sending is not paused: nothing was changed.\n"
    assert SendingPause.objects.get().ended_at is not None


def test_what_left_already_can_be_dropped(paused: Cast, time_machine: Any) -> None:
    assert (
        said("resume_sending", "--drop-due") == "Reminders leave again; 1 mails that were due are dropped.\n"
    )
    tasks.wake_notices()
    assert mail.outbox == []
    assert Digest.objects.get().state == DigestState.EXPIRED

    for day in ("08-26", "09-01", "09-04", "09-07", "09-10"):  # that it is late is told as ever
        time_machine.move_to(at(day, 5, 1))
        tasks.wake_notices()
    assert [message.to for message in mail.outbox] == [["alice@example.org"]]


def test_worker_that_finds_it_paused_is_not_deaf_and_plans_as_after_a_standstill(
    paused: Cast, time_machine: Any
) -> None:
    time_machine.move_to(MORNING, tick=False)
    tasks.wake_notices()
    assert (last_run(), last_tick()) == (None, MORNING)
    later = MORNING + dt.timedelta(minutes=15)
    time_machine.move_to(later, tick=False)
    said("send_notices")
    assert (last_run(), last_tick()) == (None, later)

    time_machine.move_to(at("08-22", 5, 1), tick=False)
    said("resume_sending")
    tasks.wake_notices()
    assert Notice.objects.filter(caught_up=True).exists()
    assert last_run() == last_tick() == at("08-22", 5, 1)


def test_operator_pauses_once(paused: Cast) -> None:
    said("resume_sending")
    for _ in range(2):
        assert said("pause_sending") == "Reminders are paused until you say manage.py resume_sending.\n"
    assert SendingPause.objects.filter(ended_at=None).count() == 1


def test_pause_that_came_with_the_data_ends_too(paused: Cast) -> None:
    pause_sending(at=MORNING, why="An older one.")
    said("resume_sending")
    assert open_pause() is None


def test_health_page_is_red_while_paused(paused: Cast) -> None:
    cache.clear()
    answer = Client().get("/healthz/reminders/")
    assert (answer.status_code, answer.json()) == (503, {"oldest_due_minutes": 1, "paused": True})

    said("resume_sending", "--drop-due")
    cache.clear()
    answer = Client().get("/healthz/reminders/")
    assert (answer.status_code, answer.json()) == (200, {"oldest_due_minutes": 0})
