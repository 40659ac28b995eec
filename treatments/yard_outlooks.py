"""Keeps every yard's "count again by" up with its counts, colonies and treatments, a minute or two behind them."""

import datetime as dt
import logging
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import isclose

from django.db import connection, transaction
from django.db.models import QuerySet

from apiaries.models import Yard
from counts.models import JAR_METHODS, MiteSample
from counts.signals import ToWrite
from counts.spread import constants_of_club
from counts.standing import Published
from treatments.models import YardOutlook
from treatments.outlook_says import yard_outlook_says

logger = logging.getLogger(__name__)

AT_ONCE = 200  # yards in one transaction
BEFORE_MAILS = 400
"""So many at a tick, some seconds' work; mails wait no longer for what only asks for counts (our choice)."""
NOT_COUNTED = "not_counted"
NOT_WORKED_OUT = "not_worked_out"
BROKEN = (ArithmeticError, LookupError, TypeError, ValueError)
"""What a sum may stumble over; one yard that does must not hold up the others, nor the mails."""

TOLD = ("sampled_on", "count_by", "why_none", "capped")
RESTS_ON = ("level", "spread")
KEPT = [*TOLD, *RESTS_ON, "computed_at", "stale"]

# By hand, as every count waits for it. A row that is stale is locked and left as it is: mostly it is, of an evening.
_STALE = """
INSERT INTO treatments_yardoutlook (yard_id, why_none, capped, stale) VALUES {}
ON CONFLICT (yard_id) DO UPDATE SET stale = true WHERE NOT treatments_yardoutlook.stale
"""


@dataclass(frozen=True, slots=True)
class OutlookDrift:
    """A day that did not follow from the counts although nothing marked it: `what` names it. Put right since."""

    what: str


@transaction.atomic(savepoint=False)
def mark_stale(yards: Iterable[int]) -> None:
    """What these yards say by when to count again is no longer known."""
    keys = set(yards)
    Yard.objects.hold(keys)
    if keys:
        follows = stale_of(keys)
        with connection.cursor() as cursor:
            cursor.execute(follows.statement, follows.parameters)


def stale_of(yards: Iterable[int]) -> ToWrite:
    """What is to be written of it, of yards that are held already; at least one."""
    keys = sorted(set(yards))
    return ToWrite(_STALE.format(", ".join(["(%s, '', false, true)"] * len(keys))), keys)


@transaction.atomic
def refresh_outlooks(*, at: dt.datetime, limit: int = AT_ONCE) -> int:
    """Work out stale outlooks, at most so many; how many were. Those that another process holds are left to it."""
    stale = YardOutlook.objects.select_for_update(skip_locked=True, of=("self",)).filter(stale=True)
    rows = list(_with_yards(stale).order_by("yard_id")[:limit])
    _keep(_worked_out(rows, at=at))
    return len(rows)


def refresh_all_outlooks(*, at: dt.datetime, most: int | None = None) -> None:
    """Work out all that are stale, a portion at a time; no new portion once `most` are done."""
    done = 0
    while (most is None or done < most) and (some := refresh_outlooks(at=at)):
        done += some


@transaction.atomic
def outlook_of(yard: Yard, *, at: dt.datetime) -> YardOutlook | None:
    """The outlook of one yard, worked out on the spot where it is stale; None for one that was never counted."""
    row = _with_yards(YardOutlook.objects.select_for_update(of=("self",))).filter(yard=yard).first()
    if row is None or not row.stale:
        return row
    (fresh,) = _worked_out([row], at=at)
    _keep([fresh])
    return fresh


def recompute_outlooks(*, at: dt.datetime) -> list[OutlookDrift]:
    """Work out all of them; what had drifted. What was merely stale is no drift, nor what moved with the club's levels
    or the spread of its counts: those are not followed one by one."""
    refresh_all_outlooks(at=at)
    missing = MiteSample.objects.filter(method__in=JAR_METHODS, yard__outlook=None).values_list(
        "yard_id", flat=True
    )
    unmarked = sorted(set(missing))
    mark_stale(unmarked)
    refresh_all_outlooks(at=at)
    drifts = [OutlookDrift(f"yard {yard}, no outlook kept") for yard in unmarked]
    keys = list(YardOutlook.objects.order_by("yard_id").values_list("yard_id", flat=True))
    for start in range(0, len(keys), AT_ONCE):
        drifts += _mend(keys[start : start + AT_ONCE], at=at)
    return drifts


@transaction.atomic
def _mend(keys: Sequence[int], *, at: dt.datetime) -> list[OutlookDrift]:
    rows = _with_yards(YardOutlook.objects.select_for_update(of=("self",))).filter(yard__in=keys)
    stored = {row.yard_id: row for row in rows.order_by("yard_id")}
    fresh = _worked_out(stored.values(), at=at)
    _keep(fresh)
    return [OutlookDrift(f"yard {row.yard_id}") for row in fresh if _drifted(stored[row.yard_id], row)]


def _drifted(kept: YardOutlook, fresh: YardOutlook) -> bool:
    if kept.stale or not all(_close(getattr(kept, name), getattr(fresh, name)) for name in RESTS_ON):
        return False
    return any(getattr(kept, name) != getattr(fresh, name) for name in TOLD)


def _close(one: float | None, other: float | None) -> bool:
    return one is other if one is None or other is None else isclose(one, other, rel_tol=1e-9)


def _with_yards(rows: "QuerySet[YardOutlook]") -> "QuerySet[YardOutlook]":
    return rows.select_related("yard__club")


def _keep(rows: Iterable[YardOutlook]) -> None:
    YardOutlook.objects.bulk_update(rows, KEPT)


def _worked_out(rows: Iterable[YardOutlook], *, at: dt.datetime) -> list[YardOutlook]:
    published = Published()
    return [_fresh(row.yard, published, at=at) for row in rows]


def _fresh(yard: Yard, published: Published, *, at: dt.datetime) -> YardOutlook:
    """The row as it follows from the yard's counts. A sum that breaks is told to the operator and gives no day."""
    fresh = YardOutlook(yard=yard, computed_at=at, stale=False)
    try:
        _tell(fresh, published, today=yard.local_date(at))
    except BROKEN:
        logger.exception("outlook of yard %s could not be worked out", yard.pk)
        fresh = YardOutlook(yard=yard, computed_at=at, stale=False, why_none=NOT_WORKED_OUT)
    return fresh


def _tell(row: YardOutlook, published: Published, *, today: dt.date) -> None:
    told = yard_outlook_says(row.yard, MiteSample.objects.standing(), published, today=today)
    if told is None:
        row.why_none = NOT_COUNTED
        return
    says = told.says
    row.sampled_on, row.level = says.sampled_on, says.rate
    row.spread = constants_of_club(row.yard.club_id).between_c2.value
    row.count_by = says.again.by if says.again else None
    row.capped = says.again.capped if says.again else False
    row.why_none = says.none.value if says.none else ""
