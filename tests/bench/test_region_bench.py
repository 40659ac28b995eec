"""The bench of the region page judges what it measured, and can fail."""

import pytest

from tests.bench.region.__main__ import COLUMNS, LARGE, bars, exponent, summary

GOOD = dict.fromkeys(COLUMNS, 1.0) | {"times_faster": 400.0, "deadlocks": 0, "size": LARGE}


def test_exponent_is_the_slope_of_the_logs():
    sizes = [
        {"size": size, "linear": 3.0 * size, "root": size**0.5, "flat": 7.0} for size in (10, 1000, 100_000)
    ]

    assert exponent(sizes, "linear") == pytest.approx(1.0)
    assert exponent(sizes, "root") == pytest.approx(0.5)
    assert exponent(sizes, "flat") == pytest.approx(0.0)
    assert exponent(sizes[:1], "linear") == 0.0


@pytest.mark.parametrize(
    ("bad", "bar"),
    [
        ({"sql_ms": 11.0}, "SQL of a page"),
        ({"warm_p95_ms": 101.0}, "warm page"),
        ({"cold_ms": 301.0}, "cold page"),
        ({"times_faster": 199.0}, "200 times"),
        ({"rebuild_s": 61.0}, "rebuilt"),
        ({"save_ratio": 1.6}, "saving a count"),
        ({"deadlocks": 1}, "no deadlock"),
    ],
)
def test_every_bar_can_be_missed(bad, bar):
    assert all(bars([GOOD]).values())
    assert [name for name, held in bars([GOOD | bad]).items() if not held] == [
        name for name in bars([GOOD]) if name.startswith(bar)
    ]


def test_a_page_that_grows_with_the_counts_is_told():
    found = [GOOD | {"size": 10**5}, GOOD | {"size": 10**7, "warm_p50_ms": 2.0}]

    assert not bars(found)["exponent of the page against counts ≤ 0.1"]
    assert len(summary(found)) == 5 and "0.151" in summary(found)[-1]
