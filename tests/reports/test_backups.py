"""What is known of backups."""

import datetime as dt
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from reports.backups import failed_since, last_backup, note_backup, note_failed_backup
from reports.models import WHY_NOT_MOST, BackupRun

pytestmark = pytest.mark.django_db
AT = dt.datetime(2026, 9, 15, 2, tzinfo=dt.UTC)
HOUR = dt.timedelta(hours=1)


def good(at: dt.datetime) -> BackupRun:
    return note_backup(begun_at=at, ended_at=at + HOUR / 60, bytes_=10, rows=3)


def bad(at: dt.datetime, why: str = "No space is left in the folder.") -> BackupRun:
    return note_failed_backup(begun_at=at, ended_at=at, why_not=why)


def test_no_backup_yet() -> None:
    assert last_backup() is None
    assert failed_since(None) is None


def test_last_good_one_counts_and_failures_since_are_told() -> None:
    bad(AT - HOUR)
    kept = good(AT)
    assert (last_backup(), failed_since(last_backup())) == (kept, None)

    failed = bad(AT + HOUR)
    assert (last_backup(), failed_since(last_backup())) == (kept, failed)

    newer = good(AT + 2 * HOUR)
    assert (last_backup(), failed_since(last_backup())) == (newer, None)


def test_reason_of_any_length_is_kept_short() -> None:
    assert len(bad(AT, "x" * 1000).why_not) == WHY_NOT_MOST


@pytest.mark.parametrize(
    "odd",
    [
        {"ok": True, "bytes": 1, "rows": None},
        {"ok": True, "bytes": 1, "rows": 1, "why_not": "but"},
        {"ok": False},
        {"ok": False, "bytes": 1, "rows": 1, "why_not": "yet it has rows"},
    ],
)
def test_run_is_whole_or_says_why_not(odd: dict[str, Any]) -> None:
    with pytest.raises(IntegrityError, match="reports_backuprun_whole_or_why"), transaction.atomic():
        BackupRun.objects.create(begun_at=AT, ended_at=AT, **odd)
