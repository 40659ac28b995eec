"""After any storm of changes by several processes at once, every figure is what a recount from scratch gives."""

import ast
import os
import subprocess
import sys
from collections import Counter
from typing import Any

import pytest
from django.conf import settings
from django.db import connection

from apiaries.models import Colony
from counts.models import MiteSample
from reports.figures import recompute_all, refresh_all_marked
from reports.models import RegionMonth, RegionMonthMark, YardMonth
from tests.processes import environment
from tests.reports.counting import AT, count

pytestmark = pytest.mark.slow

PROCESSES = 4
CHANGES = int(os.environ.get("STORM", "400"))
"""All processes together; STORM=20000 for the size that is promised."""


@pytest.mark.django_db(transaction=True)
def test_no_figure_differs_after_a_storm_of_changes(reference: Any, cast: Any, keeper_in: Any) -> None:
    for number in range(6):
        for yard in keeper_in(f"Keeper{number}", cast.north if number % 2 else cast.south, 2):
            count(yard.colonies.first(), AT.date().replace(day=1), 3)
    for colony in Colony.objects.all():
        Colony.objects.filter(pk=colony.pk).update(name=f"Hive {colony.pk}")  # so that it may go to any yard
    before = _deadlocks()
    storms = [
        subprocess.Popen(
            [sys.executable, "-m", "tests.reports.storm", str(seed), str(CHANGES // PROCESSES)],
            cwd=settings.BASE_DIR,
            env=environment(),
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        for seed in range(PROCESSES)
    ]
    said = [storm.communicate(timeout=3000) for storm in storms]
    assert [storm.returncode for storm in storms] == [0] * PROCESSES, "\n".join(
        err[-2000:] for _, err in said
    )
    done = sum((Counter(ast.literal_eval(out)) for out, _ in said), Counter[str]())

    assert {"count", "correct", "void", "import", "move", "yard", "treat", "cancel", "tick"} <= done.keys()
    drifts = recompute_all(at=AT)
    print(f"\n{dict(done)}; {MiteSample.objects.count()} counts; differences {len(drifts)}")  # noqa: T201
    assert drifts == []
    assert _deadlocks() == before
    assert not RegionMonthMark.objects.exists()
    assert refresh_all_marked(at=AT) == 0
    assert YardMonth.objects.exists() and RegionMonth.objects.filter(reason="").exists()


def _deadlocks() -> int:
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_stat_clear_snapshot()")
        cursor.execute("SELECT deadlocks FROM pg_stat_database WHERE datname = current_database()")
        return int(cursor.fetchone()[0])
