"""What happens after somebody said something about a sheet, and what a worker finds to do."""

import datetime as dt
import logging

from django.db import DatabaseError, OperationalError, transaction
from django.db.models import F

from counts.imports.actions import (
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
from counts.imports.undoing import UNDO_DAYS
from counts.imports.working import ROWS_AT_ONCE, read_batch, to_read
from counts.models import ImportBatch, ImportState, ImportWork

logger = logging.getLogger(__name__)

MOST_TRIES = 5
"""So often the bringing in of a sheet may break before it is given up (our choice)."""


def bring_in(batch: ImportBatch, *, at: dt.datetime) -> ImportBatch:
    """Bring a small sheet in at once, leave a larger one to the worker. Errors as `bring_in_sheet`.

    Where something around the sheet changed, it is read again first, and ChangedMeanwhile says so.
    """
    if wanted(batch).count() > ROWS_AT_ONCE:
        return begin_bringing_in(batch=batch, by=batch.by)
    try:
        return bring_in_sheet(batch=batch, at=at, by=batch.by)
    except ChangedMeanwhile:
        read_batch(look_again(batch=batch, by=batch.by, changed=True), at_once=True)
        raise


def work_on_all(*, at: dt.datetime) -> int:
    """Read what is to be read, bring in what is to be brought in, forget what is old; how many sheets it touched.

    A sheet that breaks stops no other; it is tried again a few times, then given up with words.
    """
    done = 0
    for batch in to_read(at):
        try:
            done += read_batch(batch)
        except Exception:  # it stays held, so that it is begun anew only after a while
            logger.exception("sheet %s could not be read", batch.pk)
    bringing = ImportBatch.objects.filter(state=ImportState.BRINGING).select_related("by")
    for batch in bringing.order_by("at", "pk"):
        try:
            _bring_in_later(batch, at)
        except NotNow:
            continue  # another worker was quicker
        except Exception as error:
            logger.exception("sheet %s could not be brought in", batch.pk)
            _tried(
                batch, refused=isinstance(error, DatabaseError) and not isinstance(error, OperationalError)
            )
        done += 1
    forget_old(at, most=20)
    return done


def _bring_in_later(batch: ImportBatch, at: dt.datetime) -> None:
    try:
        bring_in_sheet(batch=batch, at=at, by=batch.by)
    except (ChangedMeanwhile, NothingReady):
        look_again(batch=batch, by=batch.by, changed=True)


def _tried(batch: ImportBatch, *, refused: bool) -> None:
    """Count the attempt; a sheet that the database refuses, or that broke too often, is given up."""
    work = ImportWork.objects.filter(pk=batch.pk)
    again = work.filter(attempts__lt=MOST_TRIES - 1).update(attempts=F("attempts") + 1)
    if refused or not again:
        ImportBatch.objects.filter(pk=batch.pk, state=ImportState.BRINGING).update(
            state=ImportState.FAILED, refusal={"code": NOT_BROUGHT, "values": {}}
        )


def forget_old(at: dt.datetime, most: int) -> int:
    """Files and rows of sheets that can no longer be undone, and of those that nobody came back to; how many went."""
    gone = 0
    old = at - dt.timedelta(days=UNDO_DAYS)
    over = ImportBatch.objects.filter(work__isnull=False, at__lt=old)
    over = over.exclude(state__in=[ImportState.READING, ImportState.BRINGING])
    for pk in over.values_list("pk", flat=True)[:most]:
        with transaction.atomic():
            # Held: somebody may have come back to it just now.
            batch = over.select_for_update(of=("self",), no_key=True, skip_locked=True).filter(pk=pk).first()
            if batch is None or (batch.brought_at is not None and batch.brought_at >= old):
                continue
            if batch.state in (ImportState.LOOK, ImportState.FAILED):
                ImportBatch.objects.filter(pk=batch.pk).update(state=ImportState.REFUSED)
            forget_file(batch)
            gone += 1
    return gone
