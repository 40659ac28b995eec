"""The bench of the whole site judges what it measured and can fail, and its users get along with the site."""

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.utils import timezone

from counts.models import MiteSample
from tests.bench.load.judging import BARS, Found, bars, summary
from tests.bench.load.serving import SITE, served
from tests.bench.load.world import make_world
from tests.cast import make_cast
from tests.processes import environment

GOOD_RATES = {"yardstick": [1000.0, 500.0], "yard page": [250.0, 125.0], "saving a count": [200.0, 100.0]}
GOOD_RATES |= {"region page, warm": [250.0, 125.0], "mix": [125.0, 60.0]}


def good(**more: Any) -> Found:
    rates = {name: list(found) for name, found in GOOD_RATES.items()}
    cpu = {name: [1000 / one for one in found] for name, found in GOOD_RATES.items()}
    told = {"rates": rates, "cpu_ms": cpu, "p99_ms": 900.0, "minutes": 30.0}
    told["memory"] = [[100.0, 100.0]] * 10
    return Found("a place", **(told | more))


@pytest.mark.parametrize(
    ("bad", "bar"),
    [
        *(({"rates": GOOD_RATES | {name: [40.0, 20.0]}}, name) for name in BARS),
        ({"p99_ms": 1000.0}, "p99"),
        ({"errors": ["a page was none"]}, "no error"),
        ({"memory": [[100.0, 100.0]] * 8 + [[106.0, 105.0]] * 2}, "memory"),
    ],
)
def test_every_bar_can_be_missed(bad: dict[str, Any], bar: str) -> None:
    assert all(bars(good()).values())
    assert [name for name, held in bars(good(**bad)).items() if not held] == [
        name for name in bars(good()) if name.startswith(bar)
    ]


def test_a_round_is_compared_with_the_yardstick_of_the_same_round() -> None:
    # A machine that was half as fast in the second round changes no ratio.
    assert good().ratios("yard page") == [4.0, 4.0]
    assert "4.0 (4.0 to 4.0)" in "\n".join(summary(good()))


def test_memory_of_a_short_run_is_told_and_not_judged() -> None:
    found = good(minutes=1.0, memory=[[100.0]] * 8 + [[200.0]] * 2)

    assert all(bars(found).values())
    assert "growth +100.0%" in "\n".join(summary(found))


@pytest.mark.slow
@pytest.mark.django_db(transaction=True)
@pytest.mark.usefixtures("reference")
def test_users_of_the_mix_are_answered_without_an_error(tmp_path: Path) -> None:
    make_cast()
    world = make_world(at=timezone.now())
    world["evenings"].reverse()
    before = set(MiteSample.objects.values_list("pk", flat=True))
    with served(SITE, environment(), tmp_path / "log", workers=1) as site:
        plan = {
            "world": world,
            "address": site.address,
            "users": 8,
            "rate": None,
            "seconds": 3,
            "warm_up": 0.5,
        }
        (tmp_path / "plan.json").write_text(json.dumps(plan))
        command = [
            sys.executable,
            "-W",
            "ignore",
            "-m",
            "tests.bench.load.journeys",
            str(tmp_path / "plan.json"),
        ]
        ran = subprocess.run(command, cwd=settings.BASE_DIR, check=True, stdout=subprocess.PIPE)

    said = json.loads(ran.stdout.splitlines()[-1])

    assert said["errors"] == said["exceptions"] == []
    assert said["requests"] > 10
    saved = MiteSample.objects.exclude(pk__in=before)
    assert saved.exists()
    over = {tuple(evening) for evening in said["evenings_over"]}
    assert {(one.yard_id, one.sampled_on.isoformat()) for one in saved} <= over, (
        "else it is logged again later"
    )
    assert "Traceback" not in (tmp_path / "log").read_text()
