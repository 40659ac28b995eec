"""What this app does before its columns are emptied for somebody who is forgotten."""

import datetime as dt
import html
from collections.abc import Iterator
from contextlib import suppress
from io import BytesIO
from zipfile import BadZipFile, ZipFile, is_zipfile
from zlib import error as ZlibError

from django.db.models import Q

from apiaries.forgetting.wiping import Traces, traces_of
from apiaries.models import Person
from counts.imports.actions import forget_file, put_sheet_aside
from counts.models import ImportBatch, ImportRow, ImportState, ImportWork
from counts.tables.archive import check_archive
from counts.tables.refusals import Refused

OPEN = (ImportState.READING, ImportState.LOOK, ImportState.FAILED)
ENCODINGS = ("utf-8", "cp1252", "utf-16")
"""Those of most sheets. In another one a name without accents is found all the same."""

DAMAGED = (BadZipFile, EOFError, NotImplementedError, OSError, RuntimeError, ValueError, ZlibError)


def put_sheets_aside(person: Person, at: dt.datetime) -> None:
    """Sheets of theirs that nobody will look at any more, and open ones of others with something of theirs in them.

    With them go their files: an open sheet is read again whenever somebody says more about it.
    """
    for batch in ImportBatch.objects.filter(Q(by=person) | Q(keeper=person)):
        if batch.state in OPEN:
            put_sheet_aside(batch=batch, by=person)
        elif batch.state != ImportState.BRINGING:
            forget_file(batch)
    traces = traces_of(person)
    for batch in ImportBatch.objects.filter(state__in=OPEN):
        if _has_of(batch, person, traces):
            put_sheet_aside(batch=batch, by=person)


def _has_of(batch: ImportBatch, person: Person, traces: Traces) -> bool:
    """A row about a yard of theirs, or an address or a whole name in a cell or in the file."""
    rows = ImportRow.objects.filter(batch=batch)
    if rows.filter(Q(yard__keeper=person) | Q(colony__yard__keeper=person)).exists():
        return True
    if any(traces.any_in(cell) for cells in rows.values_list("cells", flat=True) for cell in cells if cell):
        return True
    data = ImportWork.objects.filter(pk=batch.pk).values_list("data", flat=True).first()
    return any(traces.any_in(text) for text in _texts(bytes(data or b"")))


def _texts(data: bytes) -> Iterator[str]:
    """The file as text; a workbook part by part. Nothing of one that may not be unpacked: it is never read either."""
    if not is_zipfile(BytesIO(data)):
        for encoding in ENCODINGS:
            yield data.decode(encoding, errors="replace")
        return
    try:
        check_archive(BytesIO(data))
    except Refused:
        return
    with suppress(*DAMAGED), ZipFile(BytesIO(data)) as archive:
        for name in archive.namelist():
            yield html.unescape(archive.read(name).decode(errors="replace"))
