"""Adds counts up by yard, month and kind, and marks the region figures that follow from them.

What is left out: drone brood, voided counts, and counts that allow no estimate: too few bees, a board that lay too
short, and every board with a treatment in the hive, because mites that fall from a treatment are no natural drop.
The number of a yard's colonies is taken as not known, so that few counted colonies widen the range they ought to.
"""

import datetime as dt
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from math import isclose

import numpy as np
from django.db import connection, transaction
from django.db.models.functions import Now, TruncMonth

from apiaries.models import Yard
from counts.constants import Constants
from counts.estimate import estimate_board, estimate_jar, yard_mean
from counts.models import MiteSample
from counts.samples import BoardSample, Kind
from reports.models import RegionMonthMark, YardMonth

KINDS = (Kind.WASH, Kind.ROLL, Kind.BOARD)
"""Kinds that have region figures."""

AT_ONCE = 2000  # yards and months in one go of a full recount

_STANDING = """
  SELECT s.*
    FROM counts_mitesample s
    JOIN unnest(%s::bigint[], %s::date[]) AS touched (yard_id, month)
      ON s.yard_id = touched.yard_id
     AND s.sampled_on >= touched.month AND s.sampled_on < touched.month + interval '1 month'
   WHERE s.voided_at IS NULL AND s.rate IS NOT NULL AND s.refusal = ''
"""


@dataclass(frozen=True, slots=True)
class Measured:
    """One count with what it was counted on: bees that the method finds, or board days; and the squared CV of it."""

    sample: MiteSample
    month: dt.date
    kind: Kind
    exposure: float
    c2: float


@dataclass(frozen=True, slots=True)
class ColonyMonth:
    """One colony's counts of one kind in a yard's month, added up: to the yard they are one sample."""

    mites: int
    bees: int
    exposure: float
    weighted_c2: float
    samples: int
    zeros: int


Group = tuple[tuple[int, dt.date, Kind], list[ColonyMonth]]


@transaction.atomic
def recompute_yard_months(touched: Collection[tuple[int, dt.date]]) -> int:
    """Work out the given yards and months anew, all kinds, from the counts that stand; how many rows they now have.

    Doing it twice changes nothing. Called inside the transaction that changed the counts. Writers of one yard wait
    for each other here, and nobody else does: the yards' rows are locked in order before any count is read, and
    the mark for the region's figures is a row of its own.
    """
    keys = sorted({(yard_id, month.replace(day=1)) for yard_id, month in touched})
    yards = _locked({yard_id for yard_id, _ in keys})
    rows = yard_months(keys, yards)
    _forget(keys)
    YardMonth.objects.bulk_create(rows, batch_size=AT_ONCE)
    mark_regions((yards[yard_id].region_id, month) for yard_id, month in keys)
    return len(rows)


def mark_regions(region_months: Iterable[tuple[int, dt.date]]) -> None:
    """Say that these regions and months need working out again."""
    RegionMonthMark.objects.bulk_create(
        RegionMonthMark(region_id=region_id, month=month, marked_at=Now())
        for region_id, month in sorted(set(region_months))
    )


@transaction.atomic
def follow_yard(yard: Yard) -> None:
    """The yard went to another region or keeper: its months go with it, and both regions are marked."""
    moved = YardMonth.objects.filter(yard=yard).exclude(region_id=yard.region_id, keeper_id=yard.keeper_id)
    left = list(moved.values_list("region_id", "month"))
    if left:
        mark_regions([*left, *((yard.region_id, month) for _, month in left)])
        moved.update(region_id=yard.region_id, keeper_id=yard.keeper_id)


def all_keys() -> Iterator[list[tuple[int, dt.date]]]:
    """Every yard and month that has counts or a row, in portions: for working out everything from scratch."""
    counted = (
        MiteSample.objects.annotate(month=TruncMonth("sampled_on")).values_list("yard_id", "month").distinct()
    )
    keys = sorted({*counted, *YardMonth.objects.values_list("yard_id", "month").distinct()})
    for start in range(0, len(keys), AT_ONCE):
        yield keys[start : start + AT_ONCE]


@transaction.atomic
def mend(keys: Sequence[tuple[int, dt.date]]) -> list[tuple[int, dt.date]]:
    """Compare these yards and months with their counts; those that differed, put right. There should be none."""
    yards = _locked({yard_id for yard_id, _ in keys})
    asked = {(row.yard_id, row.month, row.kind): row for row in yard_months(keys, yards)}
    pairs = set(keys)
    stored = {
        (row.yard_id, row.month, row.kind): row
        for row in YardMonth.objects.filter(yard_id__in=yards, month__in={month for _, month in keys})
        if (row.yard_id, row.month) in pairs
    }
    wrong = sorted(
        {key[:2] for key in asked.keys() | stored.keys() if not _alike(asked.get(key), stored.get(key))}
    )
    if wrong:
        recompute_yard_months(wrong)
    return wrong


def _alike(one: YardMonth | None, other: YardMonth | None) -> bool:
    """The same but for the last digits of floats, which hang on the order of adding."""
    if one is None or other is None:
        return one is other
    exact = ("region_id", "keeper_id", "samples", "colonies", "zeros", "mites", "bees")
    return all(getattr(one, name) == getattr(other, name) for name in exact) and all(
        isclose(getattr(one, name), getattr(other, name), rel_tol=1e-9) for name in ("exposure", "squared_cv")
    )


def _locked(yard_ids: Collection[int]) -> dict[int, Yard]:
    """The yards' rows, locked in order against other writers of the same yards; readers and new counts go on."""
    yards = Yard.objects.select_for_update(no_key=True).filter(pk__in=yard_ids).order_by("pk")
    return {yard.pk: yard for yard in yards}


def yard_months(keys: Sequence[tuple[int, dt.date]], yards: dict[int, Yard]) -> list[YardMonth]:
    """The rows that the counts of these yards and months ask for, unsaved, in the order of their keys."""
    grouped: list[Group] = []
    for key, of_yard in groupby(sorted(_measured(keys), key=_by_colony), key=lambda one: _by_colony(one)[:3]):
        colonies = groupby(of_yard, key=lambda one: one.sample.colony_id)
        grouped.append((key, [_colony_month(list(own)) for _, own in colonies]))
    rows: list[YardMonth] = []
    for start in range(0, len(grouped), AT_ONCE):
        rows += _rows(grouped[start : start + AT_ONCE], yards)
    return rows


def _measured(keys: Sequence[tuple[int, dt.date]]) -> Iterator[Measured]:
    """Standing counts in these yards and months that allow an estimate."""
    parameters = [[yard_id for yard_id, _ in keys], [month for _, month in keys]]
    constants = Constants()
    for sample in MiteSample.objects.raw(_STANDING, parameters):
        value = sample.as_value()
        if isinstance(value, BoardSample):
            estimate = estimate_board(value, constants)
        elif value is not None:
            estimate = estimate_jar(value, constants)
        else:
            continue
        if estimate.exposure > 0:
            yield Measured(
                sample, sample.sampled_on.replace(day=1), sample.kind, estimate.exposure, estimate.c2
            )


def _by_colony(one: Measured) -> tuple[int, dt.date, Kind, int]:
    return one.sample.yard_id, one.month, one.kind, one.sample.colony_id


def _colony_month(counts: Sequence[Measured]) -> ColonyMonth:
    return ColonyMonth(
        mites=sum(one.sample.mites for one in counts),
        bees=sum(one.sample.bees or 0 for one in counts),
        exposure=sum(one.exposure for one in counts),
        weighted_c2=sum(one.exposure**2 * one.c2 for one in counts),
        samples=len(counts),
        zeros=sum(one.sample.mites == 0 for one in counts),
    )


def _rows(grouped: Sequence[Group], yards: dict[int, Yard]) -> list[YardMonth]:
    """Several yards' estimates in one go: their colonies side by side, short yards filled up with empty places."""
    width = max(len(colonies) for _, colonies in grouped)
    mites, exposure = np.zeros((len(grouped), width)), np.zeros((len(grouped), width))
    within = np.zeros(len(grouped))
    for row, (_, colonies) in enumerate(grouped):
        mites[row, : len(colonies)] = [colony.mites for colony in colonies]
        exposure[row, : len(colonies)] = [colony.exposure for colony in colonies]
        within[row] = sum(colony.weighted_c2 for colony in colonies) / float(np.square(exposure[row]).sum())
    estimate = yard_mean(mites, exposure, within_c2=within)  # type: ignore[arg-type]
    return [
        YardMonth(
            yard_id=yard_id,
            region_id=yards[yard_id].region_id,
            keeper_id=yards[yard_id].keeper_id,
            month=month,
            kind=kind,
            samples=sum(colony.samples for colony in colonies),
            colonies=len(colonies),
            zeros=sum(colony.zeros for colony in colonies),
            mites=sum(colony.mites for colony in colonies),
            bees=None if kind is Kind.BOARD else sum(colony.bees for colony in colonies),
            exposure=float(estimate.exposure[row]),
            squared_cv=float(estimate.chance_c2[row]),
        )
        for row, ((yard_id, month, kind), colonies) in enumerate(grouped)
    ]


def _forget(keys: Sequence[tuple[int, dt.date]]) -> None:
    with connection.cursor() as cursor:
        cursor.execute(
            "DELETE FROM reports_yardmonth m USING unnest(%s::bigint[], %s::date[]) AS touched (yard_id, month)"
            " WHERE m.yard_id = touched.yard_id AND m.month = touched.month",
            [[yard_id for yard_id, _ in keys], [month for _, month in keys]],
        )
