"""Single lists as CSV: what is filtered on the page, row by row as an export has it."""

from __future__ import annotations

import csv
import io
from typing import Any

from allauth.core.ratelimit import consume_or_429
from django.db.models import QuerySet
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.utils import timezone
from django.views.decorators.http import require_safe

from apiaries.models import Person
from apiaries.views.asking import person_of, today_in
from counts.filters import SampleFilter
from reports.export.counted import COUNTS
from reports.export.files import sent, waiting_file
from reports.export.tables import Scope, Table, values_of
from reports.export.treated import TREATMENTS
from reports.export.writing import csv_lines
from treatments.filters import TreatmentFilter

NUMBERS = ("yard",)
"""A yard's number in an export says nothing in a list of its own; its name stands beside it."""


@require_safe
def counts_csv(request: HttpRequest) -> HttpResponseBase:
    """Counts as the list shows them, newest first."""
    person = person_of(request)
    chosen = SampleFilter(request.GET, person=person, today=timezone.now().date())
    return _answer(request, person, COUNTS, chosen.qs.newest_first())


@require_safe
def treatments_csv(request: HttpRequest) -> HttpResponseBase:
    """Treatments as the list shows them: what was recorded last comes first."""
    person = person_of(request)
    chosen = TreatmentFilter(request.GET, person=person, today=today_in(person))
    return _answer(request, person, TREATMENTS, chosen.qs.order_by("-recorded_at", "-pk"))


def _answer(request: HttpRequest, person: Person, table: Table, rows: QuerySet[Any]) -> HttpResponseBase:
    refused = consume_or_429(request, action="export", limit_get=True)
    if refused is not None:
        return refused
    columns = [column for column in table.columns if column.name not in NUMBERS]
    file = waiting_file()
    text = io.TextIOWrapper(file, encoding="utf-8-sig", newline="", write_through=True)
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(column.name for column in columns)
    writer.writerows(csv_lines(columns, values_of(columns, Scope(person), rows)))
    text.flush()
    text.detach()  # the file stays open for the answer
    return sent(file, f"recount-{table.name}.csv", "text/csv; charset=utf-8")
