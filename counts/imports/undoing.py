"""Undoing a sheet as a whole. Callers have passed a gate first."""

import datetime as dt

from django.db import models

from apiaries.history import action
from apiaries.models import Person, Yard
from counts.imports.actions import locked_batch, touched_by
from counts.models import ImportBatch, ImportState, MiteSample
from counts.signals import tell_samples_changed

UNDO_DAYS = 30
"""So long a whole sheet can be undone, and the file and its rows are kept (our choice)."""


class TooLate(ValueError):
    """The sheet was brought in too long ago to be undone as a whole."""


class NothingLeft(ValueError):
    """No count of the sheet is left that the person may void."""


@action
def undo_sheet(*, batch: ImportBatch, why: str, at: dt.datetime, by: Person) -> ImportBatch:
    """Void every count that the sheet brought in, except those that were voided or corrected since: these stay.

    So do those in yards where the person may no longer void; and colonies whose beginning the sheet moved back are
    here since then all the same. Errors: NotNow; TooLate; NothingLeft.
    """
    locked = locked_batch(batch, ImportState.IN)
    if locked.brought_at is None or at - locked.brought_at > dt.timedelta(days=UNDO_DAYS):
        raise TooLate(str(locked))
    mine = voidable_of(locked, by)
    Yard.objects.hold(mine.values_list("yard_id", flat=True))
    touched = touched_by(mine)
    if not mine.update(voided_at=at, voided_by=by, voided_why=why.strip()):
        raise NothingLeft(str(locked))
    locked.state, locked.undone_at, locked.undone_by = ImportState.UNDONE, at, by
    locked.undone_why = why.strip()
    locked.save(update_fields=["state", "undone_at", "undone_by", "undone_why"])
    tell_samples_changed(MiteSample, touched)
    return locked


def voidable_of(batch: ImportBatch, person: Person) -> "models.QuerySet[MiteSample]":
    """The counts of a batch that undoing it would void."""
    return MiteSample.objects.editable_by(person).standing().filter(imported__batch=batch)
