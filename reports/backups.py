"""What is known of this server's backups: for pages and checks that tell how old the last one is."""

import datetime as dt

from reports.models import WHY_NOT_MOST, BackupRun


def last_backup() -> BackupRun | None:
    """The last good one, None if there was none; whatever was saved until its `begun_at` is in it."""
    return BackupRun.objects.filter(ok=True).order_by("-begun_at", "-pk").first()


def failed_since(run: BackupRun | None) -> BackupRun | None:
    """The last try that failed after this one (after none: ever), with its `why_not`. None if none did."""
    failed = BackupRun.objects.filter(ok=False)
    if run is not None:
        failed = failed.filter(ended_at__gt=run.ended_at)
    return failed.first()


def note_backup(*, begun_at: dt.datetime, ended_at: dt.datetime, bytes_: int, rows: int) -> BackupRun:
    """It came to a good end; `bytes_` of all its files, `rows` of all tables."""
    return BackupRun.objects.create(begun_at=begun_at, ended_at=ended_at, ok=True, bytes=bytes_, rows=rows)


def note_failed_backup(*, begun_at: dt.datetime, ended_at: dt.datetime, why_not: str) -> BackupRun:
    """It did not. `why_not` holds no secret: operators read it."""
    short = why_not[:WHY_NOT_MOST] or "unknown"
    return BackupRun.objects.create(begun_at=begun_at, ended_at=ended_at, ok=False, why_not=short)
