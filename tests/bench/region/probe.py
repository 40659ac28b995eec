"""Measures on one database, in a process of its own; the last line it prints is JSON.

read     the page first (cold: nothing cached), then warm, its SQL, the rows it read, and the raw question
cold     only the first page
write    saving a count with and without the figures, eight writers in six regions, entries beside an import
rebuild  all figures anew by two processes, with a reader beside them
"""

import datetime as dt
import gc
import json
import multiprocessing
import os
import subprocess
import sys
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from statistics import median, quantiles
from typing import Any

import django

django.setup()

from django.conf import settings  # noqa: E402
from django.core.cache import cache  # noqa: E402
from django.db import connection, transaction  # noqa: E402
from django.test import Client  # noqa: E402
from django.test.utils import CaptureQueriesContext  # noqa: E402
from django.urls import get_resolver, reverse  # noqa: E402
from django.utils import timezone  # noqa: E402

from apiaries.models import Club, Colony, Person, Region  # noqa: E402
from config.demo.nation import COORDINATOR  # noqa: E402
from config.demo.nation_counts import FIRST_YEAR, YEARS  # noqa: E402
from counts.actions import NewCount, record_samples  # noqa: E402
from counts.models import MiteSample  # noqa: E402
from counts.samples import BeesBy, Method  # noqa: E402
from counts.signals import samples_changed  # noqa: E402
from reports.figures import recompute_all, refresh_all_marked  # noqa: E402
from reports.listeners import add_up_again  # noqa: E402

_ = get_resolver().url_patterns
gc.freeze()  # both as config.wsgi does

YEAR = FIRST_YEAR + YEARS - 1
WARM, SAVES, WRITERS, WRITER_REGIONS = 60, 150, 8, 6
TODAY = dt.date(YEAR, 8, 20)
RAW = """
SELECT y.region_id, date_trunc('month', s.sampled_on), sum(s.mites)::float8 / sum(s.exposure), sum(s.exposure),
       count(*), count(DISTINCT s.yard_id), count(DISTINCT y.keeper_id), count(*) FILTER (WHERE s.mites = 0)
  FROM counts_mitesample s JOIN apiaries_yard y ON y.id = s.yard_id
 WHERE s.voided_at IS NULL AND s.refusal = '' AND s.method IN ('alcohol_wash', 'soap_wash')
   AND s.sampled_on >= %s AND s.sampled_on < %s
 GROUP BY 1, 2
"""


def reader() -> tuple[Client, str]:
    """A browser in which the coordinator is signed in, and the address of a year of all regions."""
    client = Client()
    client.force_login(Person.objects.get(email=COORDINATOR), backend=settings.AUTHENTICATION_BACKENDS[0])
    return client, f"{reverse('reports:region-month')}?kind=wash&year={YEAR}&region=all"


def timed(work: Callable[[], Any]) -> float:
    """Milliseconds of the clock."""
    begun = time.perf_counter()
    work()
    return (time.perf_counter() - begun) * 1000


def page(client: Client, url: str) -> None:
    answer = client.get(url)
    assert answer.status_code == 200, answer.status_code
    assert b"Region 01" in answer.content


def cold() -> dict[str, Any]:
    client, url = reader()
    cache.clear()
    return {"cold_ms": timed(lambda: page(client, url))}


def read() -> dict[str, Any]:
    client, url = reader()
    cache.clear()
    first = timed(lambda: page(client, url))
    warm = [timed(lambda: page(client, url)) for _ in range(WARM)]
    chart = timed(
        lambda: client.get(url.replace(reverse("reports:region-month"), reverse("reports:region-chart")))
    )
    cache.clear()  # a page that is kept asks next to nothing
    with CaptureQueriesContext(connection) as asked:
        page(client, url)
    sql = sum(float(query["time"]) for query in asked.captured_queries) * 1000
    raw = median(timed(_raw) for _ in range(5))
    planned = median(_sql_ms(asked.captured_queries) for _ in range(5))
    return {
        "cold_ms": first,
        "warm_p50_ms": median(warm),
        "warm_p95_ms": quantiles(warm, n=20)[-1],
        "chart_ms": chart,
        "sql_ms": planned,
        "sql_clock_ms": sql,
        "queries": len(asked),
        "rows": sum(_rows(query["sql"]) for query in asked.captured_queries),
        "raw_ms": raw,
        "times_faster": raw / planned,
        "samples": MiteSample.objects.count(),
    }


def _raw() -> None:
    with connection.cursor() as cursor:
        cursor.execute(RAW, [dt.date(YEAR, 1, 1), dt.date(YEAR + 1, 1, 1)])
        cursor.fetchall()


def _plans(sql: str) -> Iterator[dict[str, Any]]:
    """The nodes of the plan of a question, as it went; none of what is no SELECT."""
    if not sql.lstrip().upper().startswith("SELECT"):
        return
    with connection.cursor() as cursor:
        cursor.execute(f"EXPLAIN (ANALYZE, TIMING OFF, FORMAT JSON) {sql}")
        (answer,) = cursor.fetchone()
    waiting = [json.loads(answer)[0] if isinstance(answer, str) else answer[0]]
    while waiting:
        node = waiting.pop()
        yield node
        waiting += node.get("Plans", []) + ([node["Plan"]] if "Plan" in node else [])


def _sql_ms(queries: list[dict[str, str]]) -> float:
    """What the server says it took to plan and answer them."""
    return sum(
        node["Planning Time"] + node["Execution Time"]
        for query in queries
        for node in _plans(query["sql"])
        if "Execution Time" in node
    )


def _rows(sql: str) -> int:
    """Rows that were looked at: those of the scans, kept or not."""
    return sum(
        round((node["Actual Rows"] + node.get("Rows Removed by Filter", 0)) * node["Actual Loops"])
        for node in _plans(sql)
        if "Scan" in node.get("Node Type", "")
    )


def write() -> dict[str, Any]:
    # Kept for good, as a commit is part of saving; those saved without figures are worked in by `rebuild`.
    colonies = list(
        Colony.objects.select_related("yard__club", "yard__keeper").order_by("pk")[: SAVES * 2 : 2]
    )
    saves: dict[bool, list[float]] = {True: [], False: []}
    _save(colonies[:1], TODAY)
    for number, colony in enumerate(colonies[1:]):
        with_figures = number % 2 == 0
        if not with_figures:
            samples_changed.disconnect(dispatch_uid="reports.rollup")
        saves[with_figures].append(timed(lambda colony=colony: _save([colony], TODAY)))
        samples_changed.connect(add_up_again, dispatch_uid="reports.rollup")
    before = _deadlocks()
    idle = _entries(beside_import=False)
    beside = _entries(beside_import=True)
    marked = median(timed(_one_mark) for _ in range(5))
    return {
        "save_ms": median(saves[True]),
        "save_ratio": median(saves[True]) / median(saves[False]),
        "deadlocks": _deadlocks() - before,
        "entry_p95_idle_ms": idle,
        "entry_p95_beside_import_ms": beside,
        "entry_wait_ratio": beside / idle,
        "one_mark_ms": marked,
    }


def _save(colonies: list[Colony], on: dt.date) -> None:
    counts = [
        NewCount(colony, Method.ALCOHOL_WASH, on, 7, bees=300, bees_by=BeesBy.VOLUME, entry_key=uuid.uuid4())
        for colony in colonies
    ]
    record_samples(counts=counts, at=timezone.now(), by=colonies[0].yard.keeper)


@contextmanager
def _undone() -> Iterator[None]:
    """Whatever is saved inside is gone afterwards, so that the next run measures the same."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def _entries(*, beside_import: bool) -> float:
    """95 % of saves of eight writers in six regions took at most so many milliseconds."""
    regions = list(Region.objects.order_by("pk").values_list("pk", flat=True)[:WRITER_REGIONS])
    with multiprocessing.get_context("spawn").Pool(WRITERS + 1) as pool:
        importing = pool.apply_async(import_whole, [regions[0]]) if beside_import else None
        jobs = [pool.apply_async(log_counts, [regions[n % WRITER_REGIONS], n]) for n in range(WRITERS)]
        times = [one for job in jobs for one in job.get()]
        if importing is not None:
            importing.get()
    return quantiles(times, n=20)[-1]


def log_counts(region: int, number: int) -> list[float]:
    """One writer: counts in yards of its own, one after the other."""
    colonies = Colony.objects.filter(yard__region=region).select_related("yard__club", "yard__keeper")
    own = colonies.order_by("-pk")[number * 40 : number * 40 + 40]
    times = [timed(lambda colony=colony: _save([colony], TODAY)) for colony in own]
    connection.close()
    return times


def import_whole(region: int) -> int:
    """One import: counts of many yards of the region in one transaction that stays open for three seconds."""
    colonies = Colony.objects.filter(yard__region=region).select_related("yard__club", "yard__keeper")
    with _undone():
        begun = time.monotonic()
        _save(list(colonies.order_by("pk")[:400]), TODAY)
        time.sleep(max(3.0 - (time.monotonic() - begun), 0))
    connection.close()
    return 400


def _one_mark() -> None:
    region = Region.objects.order_by("pk").first()
    with _undone():
        from reports.rollup import mark_regions

        mark_regions([(region.pk, TODAY.replace(day=1))])
        assert refresh_all_marked(at=timezone.now()) >= 1


def _deadlocks() -> int:
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_stat_clear_snapshot()")
        cursor.execute("SELECT deadlocks FROM pg_stat_database WHERE datname = current_database()")
        return int(cursor.fetchone()[0])


def rebuild() -> dict[str, Any]:
    """All figures anew, two processes sharing the marks, while a third reads pages."""
    client, url = reader()
    page(client, url)
    idle = median(timed(lambda: page(client, url)) for _ in range(WARM))
    begun = time.monotonic()
    working = subprocess.Popen(
        [sys.executable, "-W", "ignore", "manage.py", "refresh_figures", "--anew", "--processes", "2"],
        cwd=settings.BASE_DIR,
        env=os.environ,
        stdout=subprocess.DEVNULL,
    )
    beside: list[float] = []
    while working.poll() is None:
        beside.append(timed(lambda: page(client, url)))
        time.sleep(0.2)
    seconds = time.monotonic() - begun
    assert working.returncode == 0
    drifts = recompute_all(at=timezone.now())
    return {
        "rebuild_s": seconds,
        "read_ratio": median(beside) / idle,
        "read_worst_ms": max(beside),
        "drifts": len(drifts),
        "clubs": Club.objects.count(),
    }


if __name__ == "__main__":
    print(json.dumps({"cold": cold, "read": read, "write": write, "rebuild": rebuild}[sys.argv[1]]()))
