"""The rows of a sheet that are not brought in, for a file that can be mended and sent again."""

from django.db.models import Q

from counts.imports.reasons import reason_from, sentence_of
from counts.models import ImportBatch, RowStatus

LAST_HEADINGS = ("Row", "Status", "Why")
"""These mean nothing when the file comes back: no column of counts is called so."""


def problem_rows(batch: ImportBatch) -> tuple[list[str], list[list[str]]]:
    """The headings, and the rows that are errors or need a look still: cells as they stand, then why."""
    headings = list(batch.taken_for.get("headings", []))
    rows = batch.staged.filter(
        Q(status=RowStatus.ERROR) | Q(status=RowStatus.LOOK) & (~Q(open=[]) | Q(entry_key=None))
    )
    told = []
    for row in rows.only("number", "status", "cells", "reasons").iterator():
        cells = [cell or "" for cell in row.cells[: len(headings)]]
        cells += [""] * (len(headings) - len(cells))
        why = " ".join(sentence_of(reason_from(one)) for one in row.reasons)
        told.append([*cells, str(row.number), str(row.get_status_display()), why])
    return [*headings, *LAST_HEADINGS], told
