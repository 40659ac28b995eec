"""What happens after somebody said something about a sheet, and what a worker finds to do."""

import datetime as dt
import logging

from django.db import DatabaseError

from counts.imports.actions import (
    UNDO_DAYS,
    ChangedMeanwhile,
    NothingReady,
    NotNow,
    begin_bringing_in,
    bring_in_sheet,
    forget_file,
    look_again,
    wanted,
)
from counts.imports.refusing import NOT_BROUGHT
from counts.imports.working import ROWS_AT_ONCE, read_batch, to_read
from counts.models import ImportBatch, ImportState

logger = logging.getLogger(__name__)


def bring_in(batch: ImportBatch, *, at: dt.datetime) -> ImportBatch:
    """Bring a small sheet in at once, leave a larger one to the worker. Errors as `bring_in_sheet`.

    Where something around the sheet changed, it is read again first, and ChangedMeanwhile says so.
    """
    if wanted(batch).count() > ROWS_AT_ONCE:
        return begin_bringing_in(batch=batch, by=batch.by)
    try:
        return bring_in_sheet(batch=batch, at=at, by=batch.by)
    except ChangedMeanwhile:
        read_batch(look_again(batch=batch, by=batch.by), at_once=True)
        raise


def work_on_all(*, at: dt.datetime) -> int:
    """Read what is to be read, bring in what is to be brought in, forget what is old; how many sheets it touched."""
    done = 0
    for batch in to_read(at):
        done += read_batch(batch)
    for batch in (
        ImportBatch.objects.filter(state=ImportState.BRINGING).select_related("by").order_by("at", "pk")
    ):
        _bring_in_later(batch, at)
        done += 1
    _forget_old(at)
    return done


def _bring_in_later(batch: ImportBatch, at: dt.datetime) -> None:
    try:
        bring_in_sheet(batch=batch, at=at, by=batch.by)
    except NotNow:
        return  # another worker was quicker
    except (ChangedMeanwhile, NothingReady):
        look_again(batch=batch, by=batch.by)
    except DatabaseError:
        logger.exception("sheet %s could not be brought in", batch.pk)
        ImportBatch.objects.filter(pk=batch.pk, state=ImportState.BRINGING).update(
            state=ImportState.FAILED, refusal={"code": NOT_BROUGHT, "values": {}}
        )


def _forget_old(at: dt.datetime) -> None:
    """Files and rows of sheets that can no longer be undone, and of those that nobody came back to."""
    old = at - dt.timedelta(days=UNDO_DAYS)
    over = ImportBatch.objects.filter(work__isnull=False, at__lt=old)
    for batch in over.exclude(state__in=[ImportState.READING, ImportState.BRINGING])[:20]:
        if batch.brought_at is not None and batch.brought_at >= old:
            continue
        if batch.state in (ImportState.LOOK, ImportState.FAILED):
            ImportBatch.objects.filter(pk=batch.pk).update(state=ImportState.REFUSED)
        forget_file(batch)
