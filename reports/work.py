"""Which kinds of work are done without anybody's click, when each was done last, and from when on that is too long."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import F, Max, Sum

from apiaries.language import mark
from reports.models import WorkDone

KEPT = dt.timedelta(days=30)  # a host that did nothing for so long is gone: containers get new names


@dataclass(frozen=True)
class Work:
    """One kind of work."""

    words: str
    late_after: dt.timedelta
    """Since it was done last, by any host (our choice: two turns missed, and some minutes)."""
    scheduled: bool = True
    """Done by every installation; where not, it is late only where it was ever done."""


WORK = {
    "notices": Work(mark("plan mails"), dt.timedelta(minutes=35)),
    "mails": Work(mark("send mails"), dt.timedelta(minutes=15)),
    "account_notices": Work(mark("send mails about accounts"), dt.timedelta(minutes=15), scheduled=False),
    "region_figures": Work(mark("work out region figures"), dt.timedelta(minutes=15)),
    "imports": Work(mark("read big sheets"), dt.timedelta(minutes=15), scheduled=False),
    "leavings": Work(mark("forget those who left"), dt.timedelta(hours=3), scheduled=False),
    "sweep": Work(mark("clear away what is over"), dt.timedelta(hours=3), scheduled=False),
    "all_region_figures": Work(mark("recount all region figures"), dt.timedelta(hours=50), scheduled=False),
    "medicine_chains": Work(mark("verify medicine records"), dt.timedelta(hours=50), scheduled=False),
}


@dataclass(frozen=True)
class Standing:
    """Of one kind of work, over all hosts."""

    work: str
    done_at: dt.datetime | None
    done: int
    failed: int
    late: bool


def note_work(work: str, *, host: str, at: dt.datetime, ok: bool, took_ms: int) -> None:
    """It came to an end, good or bad."""
    row = WorkDone.objects.filter(work=work, host=host[:80])
    took_ms = min(max(took_ms, 0), 2**31 - 1)
    if ok:
        changed = row.update(at=at, done_at=at, done=F("done") + 1, took_ms=took_ms)
    else:
        changed = row.update(at=at, failed=F("failed") + 1, took_ms=took_ms)
    if changed:
        return
    first = WorkDone(work=work, host=host[:80], at=at, took_ms=took_ms, done=int(ok), failed=int(not ok))
    first.done_at = at if ok else None
    WorkDone.objects.bulk_create([first], ignore_conflicts=True)
    WorkDone.objects.filter(at__lt=at - KEPT).delete()


def standings(*, at: dt.datetime) -> list[Standing]:
    """Each kind of work, in the order above; in one query."""
    rows = (
        WorkDone.objects.order_by()
        .values("work")
        .annotate(last=Max("done_at"), n=Sum("done"), bad=Sum("failed"))
    )
    found = {row["work"]: row for row in rows}
    return [_standing(name, work, found.get(name), at) for name, work in WORK.items()]


def _standing(name: str, work: Work, row: Mapping[str, Any] | None, at: dt.datetime) -> Standing:
    last = row["last"] if row else None
    late = at - last > work.late_after if last else work.scheduled or row is not None
    return Standing(name, last, row["n"] if row else 0, row["bad"] if row else 0, late)
