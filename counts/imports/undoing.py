"""Undoing a sheet as a whole. Callers have passed a gate first."""

import datetime as dt

from apiaries.history import action
from apiaries.models import Person, Yard
from counts.imports.actions import locked_batch, touched_by
from counts.models import ImportBatch, ImportState, MiteSample
from counts.signals import samples_changed

UNDO_DAYS = 30
"""So long a whole sheet can be undone, and the file and its rows are kept (our choice)."""


class TooLate(ValueError):
    """The sheet was brought in too long ago to be undone as a whole."""


@action
def undo_sheet(*, batch: ImportBatch, why: str, at: dt.datetime, by: Person) -> ImportBatch:
    """Void every count that the sheet brought in, except those that were voided or corrected since: these stay.

    So do those in yards where the person may no longer void. Errors: NotNow; TooLate.
    """
    locked = locked_batch(batch, ImportState.IN)
    if locked.brought_at is None or at - locked.brought_at > dt.timedelta(days=UNDO_DAYS):
        raise TooLate(str(locked))
    mine = MiteSample.objects.editable_by(by).standing().filter(imported__batch=locked)
    Yard.objects.hold(mine.values_list("yard_id", flat=True))
    touched = touched_by(mine)
    mine.update(voided_at=at, voided_by=by, voided_why=why.strip())
    locked.state, locked.undone_at, locked.undone_by = ImportState.UNDONE, at, by
    locked.undone_why = why.strip()
    locked.save(update_fields=["state", "undone_at", "undone_by", "undone_why"])
    if touched:
        samples_changed.send(MiteSample, touched=touched)
    return locked
