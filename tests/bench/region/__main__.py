"""How the page of regions keeps its speed while counts grow a hundredfold. Say: make bench-region

For each size of BENCH_SIZES (default 100000,1000000,10000000) a database of its own with an invented country is made
on the server of DATABASE_URL, or on the embedded one, and kept for the next run; BENCH_FRESH=1 makes it anew. A process
for each measures (tests.bench.region.probe), so that the first page is a cold one. Everything is a ratio within one
run, but for the bars of the page that are in milliseconds. Ends with 1 if a bar is missed.
"""

import json
import math
import os
import subprocess
import sys
from typing import Any

from django.conf import settings

from tests.bench.databases import invented_country, ready, surroundings

SIZES = [int(size) for size in os.environ.get("BENCH_SIZES", "100000,1000000,10000000").split(",")]
LARGE = 10_000_000
PROBES = 3  # processes for the cold page, of which the middle one counts


def main() -> int:
    ready()
    results = []
    for size in SIZES:
        url = invented_country(size)
        found = asked(url, "read")
        cold = sorted([found["cold_ms"], *(asked(url, "cold")["cold_ms"] for _ in range(PROBES - 1))])
        found["cold_ms"] = cold[len(cold) // 2]
        found |= asked(url, "write") | asked(url, "rebuild")
        results.append(found | {"size": size})
        print(json.dumps(results[-1]), flush=True)
    print("\n".join(summary(results)))
    missed = [bar for bar, held in bars(results).items() if not held]
    for bar in missed:
        print(f"MISSED: {bar}")
    return 1 if missed else 0


def asked(url: str, what: str) -> dict[str, Any]:
    """What a process of its own measured."""
    said = subprocess.run(
        [sys.executable, "-W", "ignore", "-m", "tests.bench.region.probe", what],
        check=True,
        env=surroundings(url),
        cwd=settings.BASE_DIR,
        stdout=subprocess.PIPE,
        text=True,
    )
    found: dict[str, Any] = json.loads(said.stdout.splitlines()[-1])
    return found


def exponent(results: list[dict[str, Any]], name: str) -> float:
    """Slope of the log of a time against the log of the counts, by least squares; 0 with one size."""
    if len(results) < 2:
        return 0.0
    x = [math.log(one["size"]) for one in results]
    y = [math.log(one[name]) for one in results]
    middle_x, middle_y = sum(x) / len(x), sum(y) / len(y)
    up = sum((a - middle_x) * (b - middle_y) for a, b in zip(x, y, strict=True))
    return up / sum((a - middle_x) ** 2 for a in x)


COLUMNS = {
    "size": "counts",
    "cold_ms": "page cold ms",
    "warm_p50_ms": "warm p50",
    "warm_p95_ms": "warm p95",
    "chart_ms": "chart drawn",
    "sql_ms": "its SQL ms",
    "queries": "queries",
    "rows": "rows read",
    "raw_ms": "raw SQL ms",
    "times_faster": "× faster",
    "save_ratio": "save ×",
    "deadlocks": "deadlocks",
    "entry_wait_ratio": "entry beside import ×",
    "one_mark_ms": "one mark ms",
    "rebuild_s": "rebuild s",
    "read_ratio": "page while rebuilding ×",
}


def summary(results: list[dict[str, Any]]) -> list[str]:
    """The table of the run, one line for each size."""
    lines = ["| " + " | ".join(COLUMNS.values()) + " |", "|" + "---|" * len(COLUMNS)]
    for one in results:
        cells = [
            f"{one[name]:,.1f}" if isinstance(one[name], float) else f"{one[name]:,}" for name in COLUMNS
        ]
        lines.append("| " + " | ".join(cells) + " |")
    return [
        *lines,
        f"Exponent of the warm page against counts: {exponent(results, 'warm_p50_ms'):.3f};"
        f" of its SQL: {exponent(results, 'sql_ms'):.3f}; of the raw question: {exponent(results, 'raw_ms'):.3f}.",
    ]


def bars(results: list[dict[str, Any]]) -> dict[str, bool]:
    """What was promised; times in milliseconds only where the largest size was measured."""
    held = {
        "exponent of the page against counts ≤ 0.1": exponent(results, "warm_p50_ms") <= 0.1,
        "saving a count ≤ 1.5 times as without figures": all(one["save_ratio"] <= 1.5 for one in results),
        "no deadlock": all(one["deadlocks"] == 0 for one in results),
    }
    for one in results:
        if one["size"] >= LARGE:
            held |= {
                "SQL of a page ≤ 10 ms": one["sql_ms"] <= 10,
                "warm page ≤ 100 ms": one["warm_p95_ms"] <= 100,
                "cold page ≤ 300 ms": one["cold_ms"] <= 300,
                "200 times faster than the raw question": one["times_faster"] >= 200,
                "rebuilt in 60 s": one["rebuild_s"] <= 60,
            }
    return held


if __name__ == "__main__":
    sys.exit(main())
