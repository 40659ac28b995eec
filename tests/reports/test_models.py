"""What PostgreSQL itself refuses of region figures and of files that came back."""

import datetime as dt
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from counts.adding import basis_for
from counts.constants import DEFAULTS
from reports.models import RegionMonth, ReturnedFile, WorkDone
from reports.parts import Part
from tests.cast import Cast

WHOLE = {"rate": 0.02, "low": 0.01, "high": 0.03}


def figures(cast: Cast, **more: Any) -> RegionMonth:
    numbers = dict.fromkeys(("yards", "keepers", "colonies", "samples", "zeros", "mites"), 9)
    return RegionMonth(
        region=cast.north, month=dt.date(2026, 8, 1), kind="wash", basis=basis_for(DEFAULTS),
        computed_at=dt.datetime(2026, 9, 1, tzinfo=dt.UTC), **numbers, **(WHOLE | more),
    )  # fmt: skip


@pytest.mark.parametrize("missing", [*WHOLE, "low high"])
def test_figure_without_its_range_is_refused(cast: Cast, missing: str) -> None:
    with pytest.raises(IntegrityError, match="has_a_range"), transaction.atomic():
        figures(cast, **dict.fromkeys(missing.split())).save()


def test_whole_figures_and_none_are_kept(cast: Cast) -> None:
    figures(cast).save()
    RegionMonth.objects.all().delete()
    figures(cast, reason="too few keepers", **dict.fromkeys(WHOLE)).save()

    assert RegionMonth.objects.get().rate is None


@pytest.mark.parametrize(
    "figure", [{}, {"median": 0.02}, {"tenth": 0.01}, {"shares": {"a": [0.5, 0.2, 0.8]}}]
)
def test_hidden_month_has_no_figure(cast: Cast, figure: dict[str, Any]) -> None:
    none = {} if not figure else dict.fromkeys(WHOLE)
    with pytest.raises(IntegrityError, match="hidden_has_no_figures"), transaction.atomic():
        figures(cast, reason="too few keepers", **(none | figure)).save()


def test_one_row_follows_the_counts_and_one_is_published(cast: Cast) -> None:
    at = dt.datetime(2026, 9, 15, tzinfo=dt.UTC)
    figures(cast).save()
    figures(cast, frozen_at=at).save()
    figures(cast, part=Part.WITH_BROOD).save()

    for again in ({}, {"frozen_at": at}):
        with pytest.raises(IntegrityError, match="once"), transaction.atomic():
            figures(cast, **again).save()


def returned(cast: Cast, **more: Any) -> None:
    at = dt.datetime(2026, 9, 15, tzinfo=dt.UTC)
    known = {"person": cast.alice, "content": b"{}", "sha256": "0", "told": {}, "sent_at": at}
    ReturnedFile.objects.create(**known | more)


def test_one_returned_file_is_looked_at_and_none_that_was_brought_in_is_kept(cast: Cast) -> None:
    at = dt.datetime(2026, 9, 16, tzinfo=dt.UTC)
    returned(cast, content=b"", brought_at=at)
    returned(cast)

    for rule, more in {
        "reports_returnedfile_one_open": {},
        "reports_returnedfile_no_bytes_kept": {"brought_at": at},
    }.items():
        with pytest.raises(IntegrityError, match=rule), transaction.atomic():
            returned(cast, **more)


def test_work_that_was_done_says_when(db: None) -> None:
    at = dt.datetime(2026, 9, 16, tzinfo=dt.UTC)
    known = {"work": "mails", "at": at, "took_ms": 1}
    WorkDone.objects.create(host="work1", done=1, done_at=at, **known)
    for rule, more in {
        "reports_workdone_once": {"host": "work1"},
        "reports_workdone_done_has_a_time": {"host": "work2", "done": 1},
    }.items():
        with pytest.raises(IntegrityError, match=rule), transaction.atomic():
            WorkDone.objects.create(**known | more)
