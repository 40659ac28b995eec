"""What PostgreSQL itself refuses of region figures."""

import datetime as dt
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from reports.models import RegionMonth
from tests.cast import Cast

WHOLE = {"rate": 0.02, "low": 0.01, "high": 0.03, "share_above": 0.5, "share_low": 0.2, "share_high": 0.8}


def figures(cast: Cast, **more: Any) -> RegionMonth:
    numbers = dict.fromkeys(("yards", "keepers", "colonies", "samples", "zeros", "mites"), 9)
    return RegionMonth(
        region=cast.north, month=dt.date(2026, 8, 1), kind="wash", method={},
        computed_at=dt.datetime(2026, 9, 1, tzinfo=dt.UTC), **numbers, **(WHOLE | more),
    )  # fmt: skip


@pytest.mark.parametrize("missing", [*WHOLE, "low high", "share_low share_high"])
def test_figure_without_its_range_is_refused(cast: Cast, missing: str) -> None:
    with pytest.raises(IntegrityError, match="has_a_range"), transaction.atomic():
        figures(cast, **dict.fromkeys(missing.split())).save()


def test_whole_figures_and_none_are_kept(cast: Cast) -> None:
    figures(cast).save()
    RegionMonth.objects.all().delete()
    figures(cast, reason="too few keepers", **dict.fromkeys(WHOLE)).save()

    assert RegionMonth.objects.get().rate is None
