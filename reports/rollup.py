"""Keeps the months of yards up with their counts and treatments, and marks the region figures that follow from them.

What is added up, and what is left out, says `reports.yard_sums`.
"""

import datetime as dt
from collections.abc import Collection, Iterable

import numpy as np
import numpy.typing as npt
from django.db import connection, transaction
from django.db.models.functions import Now
from django.utils import timezone

from apiaries.models import Yard
from counts.signals import ToWrite
from reports import yard_sums
from reports._binary import Rows, date_of, day_of
from reports.constants import DEFAULTS
from reports.few_months import add_up_few, few_to_write
from reports.models import RegionMonthMark, YardMonth
from reports.yard_sums import MONTHS

FEW = 20
"""Up to so many months of yards, what a save or an evening's batch touches, go the way that is short for one."""

YARDS_AT_ONCE = 2000
SETTINGS = ("work_mem = '64MB'", "jit = off", "max_parallel_workers_per_gather = 0")
"""For a portion: room to add up its counts in memory, and no more processes or compiling than it is worth."""

DAY_BITS, DAYS = 21, 1 << 20
"""A day's number takes so many bits, once it is moved above 0: months go back before 2000."""

EXACT = [name for name in MONTHS.names or () if MONTHS[name].kind == "i"]
MEASURED = [name for name in MONTHS.names or () if MONTHS[name].kind == "f"]

_FORGET = """
WITH touched (yard_id, month) AS (SELECT * FROM unnest(%s::bigint[], %s::date[])), gone AS (
  DELETE FROM reports_yardmonth m USING touched WHERE m.yard_id = touched.yard_id AND m.month = touched.month
)
INSERT INTO reports_regionmonthmark (region_id, month, marked_at)
SELECT DISTINCT y.region_id, touched.month, now() FROM touched JOIN apiaries_yard y ON y.id = touched.yard_id
"""


@transaction.atomic(savepoint=False)
def recompute_yard_months(touched: Collection[tuple[int, dt.date]]) -> int:
    """Work out the given yards and months anew, all kinds, from the counts that stand; how many rows they now have.

    Doing it twice changes nothing. Called inside the transaction that changed the counts, with the yards held, so that
    writers of one yard wait for each other and nobody else does; the mark for the region's figures is a row of its own.
    """
    rows, follows = _worked_out(touched)
    if follows is not None:
        with connection.cursor() as cursor:
            cursor.execute(follows.statement, follows.parameters)
    return len(rows)


def follow_counts(touched: Collection[tuple[int, dt.date]]) -> ToWrite | None:
    """The same for who changed the counts: what is to be written of a few months goes along with what else follows."""
    return _worked_out(touched)[1]


def _worked_out(touched: Collection[tuple[int, dt.date]]) -> tuple[Rows, ToWrite | None]:
    """The rows, and what is to be written if they are of a few months; of more they are written."""
    keys = sorted({(yard_id, month.replace(day=1)) for yard_id, month in touched})
    if not keys:
        return np.empty(0, MONTHS), None
    if len(keys) <= FEW:
        rows = add_up_few(keys)
        return rows, few_to_write(keys, rows)
    rows = yard_sums.add_up(keys)
    _forget_and_mark(keys)
    yard_sums.write(rows)
    return rows, None


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


@transaction.atomic
def follow_place(yard: Yard) -> None:
    """The yard's place changed: the map of its region's last years hangs on it."""
    first = dt.date(timezone.now().year - int(DEFAULTS.map_years.value) + 1, 1, 1)
    months = YardMonth.objects.filter(yard=yard, month__gte=first)
    mark_regions(months.values_list("region_id", "month").distinct())


@transaction.atomic
def follow_treatment(yard_id: int, since: dt.date) -> None:
    """What was given in the yard from that day on changed: how long ago its counts were treated hangs on it."""
    Yard.objects.hold([yard_id])
    months = YardMonth.objects.filter(yard=yard_id, month__gte=since.replace(day=1))
    recompute_yard_months([(yard_id, month) for month in set(months.values_list("month", flat=True))])


def portions() -> list[tuple[int, int]]:
    """All yards in portions that are worked out at once: the first and the last key of each."""
    keys = list(Yard.objects.order_by("pk").values_list("pk", flat=True))
    some = (keys[begin : begin + YARDS_AT_ONCE] for begin in range(0, len(keys), YARDS_AT_ONCE))
    return [(own[0], own[-1]) for own in some]


@transaction.atomic
def rebuild(portion: tuple[int, int]) -> int:
    """Work out every row of a portion of the yards anew from the counts, whatever is there, and write those that are
    not there so; how many were not. Readers see the old rows until it is done; who logs a count in one of these yards
    waits. Their regions are marked, changed or not."""
    Yard.objects.hold(Yard.objects.filter(pk__range=portion).values_list("pk", flat=True))
    with connection.cursor() as cursor:
        for setting in SETTINGS:
            cursor.execute(f"SET LOCAL {setting}")
    rows, there = _asked_and_found(portion)
    wrong = _differ(rows, there)
    if wrong:
        _forget_and_mark(wrong)
        yard_sums.write(rows[np.isin(_month_of(rows), _months_of(wrong))])
    mark_regions([*_places(rows), *_places(there)])
    return len(wrong)


def drifted() -> list[tuple[int, dt.date]]:
    """Yards and months whose rows disagree with their counts, put right since. There should be none.

    Everything is compared without a lock; what seems to differ is looked at again under its yard's lock, because a
    count may have been saved between the two readings.
    """
    return [key for portion in portions() for key in _differ(*_asked_and_found(portion)) if _mend(key)]


def _asked_and_found(portion: tuple[int, int]) -> tuple[Rows, Rows]:
    """The rows that the counts of these yards ask for, and those that are there."""
    return yard_sums.add_up_between(*portion), yard_sums.stored("WHERE yard_id BETWEEN %s AND %s", portion)


def _places(rows: Rows) -> list[tuple[int, dt.date]]:
    """Regions and months that the rows are of."""
    found = np.unique((rows["region_id"] << DAY_BITS) + rows["month"] + DAYS).tolist()
    return [(place >> DAY_BITS, date_of((place & (1 << DAY_BITS) - 1) - DAYS)) for place in found]


def _month_of(rows: Rows) -> npt.NDArray[np.int64]:
    """One number for yard and month."""
    months: npt.NDArray[np.int64] = (rows["yard_id"] << DAY_BITS) + rows["month"] + DAYS
    return months


def _months_of(keys: Collection[tuple[int, dt.date]]) -> list[int]:
    return [(yard_id << DAY_BITS) + day_of(month) + DAYS for yard_id, month in keys]


@transaction.atomic
def _mend(key: tuple[int, dt.date]) -> bool:
    Yard.objects.hold([key[0]])
    rows = yard_sums.stored("WHERE yard_id = %s AND month = %s", key)
    if not _differ(yard_sums.add_up([key]), rows):
        return False
    recompute_yard_months([key])
    return True


def _differ(asked: Rows, found: Rows) -> list[tuple[int, dt.date]]:
    """Yards and months whose rows are not the same, but for the last digits of floats, which hang on the order of
    adding."""
    both, place, other = np.intersect1d(_key(asked), _key(found), return_indices=True)
    one, two = asked[place], found[other]
    same = np.ones(len(both), dtype=bool)
    for name in EXACT:
        same &= one[name] == two[name]
    for name in MEASURED:
        same &= np.isclose(one[name], two[name], rtol=1e-9, atol=0.0)
    alone = [np.delete(asked, place), np.delete(found, other)]
    wrong = np.concatenate([one[~same], *alone])
    return sorted({(int(row["yard_id"]), date_of(row["month"])) for row in wrong})


def _key(rows: Rows) -> npt.NDArray[np.int64]:
    """One number for yard, month and kind."""
    keys: npt.NDArray[np.int64] = (_month_of(rows) << 2) + rows["kind"]
    return keys


def _forget_and_mark(keys: Collection[tuple[int, dt.date]]) -> None:
    """Take the rows of these yards and months away, and mark their regions."""
    with connection.cursor() as cursor:
        cursor.execute(_FORGET, [[yard_id for yard_id, _ in keys], [month for _, month in keys]])
