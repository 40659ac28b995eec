"""What this app does before its columns are emptied for somebody who is forgotten."""

import datetime as dt

from django.db.models import Q

from apiaries.models import Person
from counts.imports.actions import forget_file, put_sheet_aside
from counts.models import ImportBatch, ImportState

OPEN = (ImportState.READING, ImportState.LOOK, ImportState.FAILED)


def put_sheets_aside(person: Person, at: dt.datetime) -> None:
    """Sheets of theirs that nobody will look at any more: with them go their files."""
    for batch in ImportBatch.objects.filter(Q(by=person) | Q(keeper=person)):
        if batch.state in OPEN:
            put_sheet_aside(batch=batch, by=person)
        elif batch.state != ImportState.BRINGING:
            forget_file(batch)
