"""What PostgreSQL itself refuses of region figures."""

import datetime as dt
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from counts.actions import basis_for
from counts.constants import DEFAULTS
from reports.models import RegionMonth
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
