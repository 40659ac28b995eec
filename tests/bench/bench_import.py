"""How long a sheet of 100,000 counts takes: read, sorted, brought in, undone; and how much memory this process needs.

Run on request: .venv/bin/python -m pytest -s -q tests/bench/bench_import.py
Twenty yards of fifty colonies, a hundred days; one row in a hundred is an error, one needs a look. Each step runs as
the worker runs it, in its own transactions on a real database.
"""

import datetime as dt
import resource
import time
from typing import Any

import pytest

from apiaries.actions import add_numbered_colonies, add_yard
from counts.imports.actions import bring_in_sheet, take_in_sheet
from counts.imports.said import Said
from counts.imports.undoing import undo_sheet
from counts.imports.working import read_batch
from counts.models import ImportBatch, ImportRow, MiteSample
from tests.cast import Cast

YARDS, COLONIES, DAYS = 20, 50, 100
BAR, MEMORY = 60.0, 400  # seconds from the file to the counts; MB
FIRST = dt.date(2021, 4, 1)


@pytest.mark.django_db(transaction=True)
def test_hundred_thousand_rows(reference: None, cast: Cast) -> None:
    before = peak()
    for number in range(YARDS):
        yard = add_yard(keeper=cast.alice, region=cast.north, name=f"Yard {number}", by=cast.alice)
        add_numbered_colonies(yard=yard, first=1, last=COLONIES, started_on=FIRST, by=cast.alice)
    data = sheet()
    now = dt.datetime.now(dt.UTC)
    batch = take_in_sheet(club=cast.club, name="years.csv", data=data, said=Said(), at=now, by=cast.alice)
    took: dict[str, float] = {}
    timed(took, "read and sort", lambda: read_batch(batch))
    batch.refresh_from_db()
    assert (batch.rows, batch.errors, batch.look) == (100_000, 1_000, 1_000)
    timed(took, "bring in", lambda: bring_in_sheet(batch=batch, at=now, by=cast.alice))
    assert MiteSample.objects.count() == 98_000
    whole, used = sum(took.values()), peak()
    timed(took, "undo", lambda: undo_sheet(batch=batch, why="bench", at=now, by=cast.alice))
    assert not MiteSample.objects.standing().exists()
    assert ImportRow.objects.count() == 100_000
    print(f"\n100,000 rows, {len(data) / 1e6:.1f} MB: from file to counts {whole:.1f} s (bar {BAR:.0f})")
    print(", ".join(f"{what} {seconds:.1f} s" for what, seconds in took.items()))
    print(f"peak of this process {used} MB (bar {MEMORY}; {before} MB before it began)")
    assert whole < BAR
    assert used < MEMORY
    assert ImportBatch.objects.get().brought == 98_000


def sheet() -> bytes:
    lines = ["Stand;Volk;Datum;Methode;Milben;Bienen;Bemerkung"]
    for day in range(DAYS):
        on = FIRST + dt.timedelta(days=day * 15)
        for yard in range(YARDS):
            for colony in range(COLONIES):
                mites = "73" if colony == 7 and yard % 2 else (day * 7 + yard * 3 + colony) % 9
                name = f"{colony + 1}" if colony != 8 or yard % 2 else "unknown"
                lines.append(f"Yard {yard};{name};{on:%d.%m.%Y};Puderzucker;{mites};300;Zeile {day}")
    return "\n".join(lines).encode()


def timed(took: dict[str, float], what: str, work: Any) -> None:
    since = time.perf_counter()
    work()
    took[what] = time.perf_counter() - since


def peak() -> int:
    """MB that this process held at most so far."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
