"""The schedule, and the file broker with the faults that a kill can leave behind."""

import json
import os
import shutil
import stat
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from queue import Empty

import pytest
from celery import Celery
from celery.contrib.testing.worker import start_worker
from kombu import Connection
from kombu.simple import SimpleQueue

from config import broker_files
from config.celery import app

AT = datetime(2026, 5, 3, 12, 0, tzinfo=UTC)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    broker_files.options(tmp_path / "broker")
    return tmp_path / "broker"


@pytest.fixture
def queue(folder: Path) -> Iterator[SimpleQueue]:
    with Connection(
        transport="config.broker_files:Transport", transport_options=broker_files.options(folder)
    ) as connection:
        yield connection.SimpleQueue("recount")


def test_schedule_is_plain_intervals_whose_messages_expire() -> None:
    for name, entry in app.conf.beat_schedule.items():
        assert isinstance(entry["schedule"], timedelta), name
        assert entry["options"] == {"expires": entry["schedule"].total_seconds()}, name


def test_schedule_names_each_wake_with_its_promised_interval() -> None:
    assert {entry["task"]: entry["schedule"] for entry in app.conf.beat_schedule.values()} == {
        "reports.tasks.wake_notices": timedelta(minutes=15),
        "reports.tasks.wake_mails": timedelta(minutes=1),
        "reports.tasks.wake_account_notices": timedelta(minutes=1),
        "reports.tasks.wake_region_figures": timedelta(minutes=1),
        "counts.tasks.work_on_imports": timedelta(seconds=10),
        "reports.tasks.wake_leavings": timedelta(hours=1),
        "reports.tasks.wake_sweep": timedelta(hours=1),
        "reports.tasks.recompute_all_region_figures": timedelta(days=1),
    }


def test_every_scheduled_task_exists() -> None:
    app.loader.import_default_modules()

    assert {entry["task"] for entry in app.conf.beat_schedule.values()} <= set(app.tasks)


def test_clock_is_utc_and_results_are_not_kept() -> None:
    assert (app.conf.timezone, app.conf.enable_utc) == ("UTC", True)
    assert (app.conf.task_ignore_result, app.conf.task_acks_late) == (True, True)


def test_folders_are_closed_to_other_users(folder: Path) -> None:
    assert {stat.S_IMODE(place.stat().st_mode) for place in (folder, *folder.iterdir())} == {0o700}


def test_message_comes_back_as_it_was_sent(queue: SimpleQueue, folder: Path) -> None:
    queue.put({"wake": "notices"})
    queue.put({"wake": "figures"})

    assert [queue.get(timeout=5).payload for _ in range(2)] == [{"wake": "notices"}, {"wake": "figures"}]
    assert [*(folder / "messages").iterdir(), *(folder / "taken").iterdir()] == []


@pytest.mark.parametrize("torn", ["", '{"body": "eyJ3', "5", "\x00\x00", "[]"])
def test_torn_message_is_left_out(queue: SimpleQueue, folder: Path, torn: str) -> None:
    (folder / "messages" / "0_first.recount.msg").write_text(torn)
    queue.put({"wake": "notices"})

    assert queue.get(timeout=5).payload == {"wake": "notices"}
    with pytest.raises(Empty):
        queue.get(block=False)


@pytest.mark.parametrize("table", [None, '[["recount'])
def test_message_arrives_when_the_control_folder_was_emptied(
    queue: SimpleQueue, folder: Path, table: str | None
) -> None:
    for file in (folder / "control").iterdir():
        file.unlink()
    if table:
        (folder / "control" / "recount.exchange").write_text(table)

    queue.put({"wake": "notices"})

    assert queue.get(timeout=5).payload == {"wake": "notices"}


def test_message_arrives_when_the_whole_folder_was_removed(queue: SimpleQueue, folder: Path) -> None:
    queue.put({"wake": "notices"})
    shutil.rmtree(folder)
    with pytest.raises(Empty):
        queue.get(block=False)
    shutil.rmtree(folder)
    queue.put({"wake": "figures"})

    assert queue.get(timeout=5).payload == {"wake": "figures"}
    assert {stat.S_IMODE(place.stat().st_mode) for place in (folder, *folder.iterdir())} == {0o700}


def test_half_written_message_is_not_seen(queue: SimpleQueue, folder: Path) -> None:
    (folder / "messages" / ".abc.part").write_text('{"body"')

    with pytest.raises(Empty):
        queue.get(block=False)


def test_worker_lives_through_a_torn_message(folder: Path) -> None:
    files = Celery("files", set_as_current=False, fixups=[])
    files.conf.update(
        broker_url="filesystem://",
        broker_transport="config.broker_files:Transport",
        broker_transport_options=broker_files.options(folder),
        worker_enable_remote_control=False,
    )
    ran: list[int] = []

    @files.task(name="files.note", shared=False)
    def note(number: int) -> None:
        ran.append(number)

    (folder / "messages" / "0_first.celery.msg").touch()

    with start_worker(files, pool="solo", perform_ping_check=False):
        note.delay(7)
        until = time.monotonic() + 20
        while not ran and time.monotonic() < until:
            time.sleep(0.05)

    assert ran == [7]


def test_tidy_removes_torn_and_spent_files_only(folder: Path) -> None:
    messages, control = folder / "messages", folder / "control"
    (messages / "1.recount.msg").touch()
    (messages / "2.recount.msg").write_text(json.dumps({"headers": {"expires": AT.isoformat()}}))
    (messages / "3.recount.msg").write_text(
        json.dumps({"headers": {"expires": (AT + timedelta(seconds=1)).isoformat()}})
    )
    (messages / "4.recount.msg").write_text(json.dumps({"headers": {"expires": None}}))
    (control / "torn.exchange").write_text('[["recount"')
    (control / "recount.exchange").write_text('[["recount", "", "recount"]]')

    assert broker_files.tidy(folder, at=AT) == ["1.recount.msg", "2.recount.msg", "torn.exchange"]
    assert sorted(file.name for file in messages.iterdir()) == ["3.recount.msg", "4.recount.msg"]
    assert broker_files.tidy(folder, at=AT) == []


@pytest.mark.parametrize(("place", "name"), [("messages", ".a.part"), ("taken", "5.recount.msg")])
def test_tidy_leaves_a_moment_to_whoever_is_busy(folder: Path, place: str, name: str) -> None:
    file = folder / place / name
    file.touch()
    os.utime(file, (AT.timestamp(), AT.timestamp()))

    assert broker_files.tidy(folder, at=AT + timedelta(seconds=59)) == []
    assert broker_files.tidy(folder, at=AT + timedelta(seconds=61)) == [name]


def test_a_message_of_the_schedule_is_spent_when_the_next_is_due(folder: Path) -> None:
    files = Celery("files", set_as_current=False, broker="filesystem://")
    files.conf.update(
        broker_transport="config.broker_files:Transport",
        broker_transport_options=broker_files.options(folder),
    )
    entry = app.conf.beat_schedule["wake-region-figures"]
    sent = datetime.now(UTC)

    files.send_task(entry["task"], **entry["options"])

    assert broker_files.tidy(folder, at=sent + timedelta(seconds=58)) == []
    assert len(broker_files.tidy(folder, at=sent + timedelta(seconds=62))) == 1
