"""A real worker wakes through the embedded transport, and through Redis and RabbitMQ."""

import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.utils import timezone

from reports.models import RegionMonth, RegionMonthMark
from reports.rollup import mark_regions
from tests.brokers import KNOWN, url_of
from tests.cast import Cast
from tests.processes import environment

pytestmark = [pytest.mark.slow, pytest.mark.django_db(transaction=True)]


@pytest.fixture(params=sorted(KNOWN))
def surroundings(request: Any, tmp_path: Path) -> Iterator[dict[str, str]]:
    """The environment of a worker with that broker."""
    (tmp_path / "static").mkdir()
    url = url_of(request.param)
    more = {"CELERY_BROKER_URL": url} if url else {}
    yield environment(RECOUNT_VAR=str(tmp_path), **more)


def test_worker_wakes_and_works_out_what_was_marked(cast: Cast, surroundings: dict[str, str]) -> None:
    month = timezone.now().date().replace(day=1)
    mark_regions([(cast.north.pk, month)])
    queue = f"recount-test-{cast.club.pk}-{time.monotonic_ns()}"
    celery = [sys.executable, "-m", "celery", "-A", "config"]
    worker = subprocess.Popen(
        [*celery, "worker", "--pool", "solo", "--queues", queue, "--loglevel", "ERROR"],
        env=surroundings,
        cwd=settings.BASE_DIR,
    )
    try:
        subprocess.run(
            [*celery, "call", "reports.tasks.wake_region_figures", "--queue", queue],
            env=surroundings,
            cwd=settings.BASE_DIR,
            check=True,
            timeout=60,
            capture_output=True,
        )
        until = time.monotonic() + 60
        while RegionMonthMark.objects.exists() and time.monotonic() < until:
            time.sleep(0.2)
    finally:
        worker.terminate()
        worker.wait(timeout=30)

    assert not RegionMonthMark.objects.exists()
    assert not RegionMonth.objects.filter(region=cast.north).exists(), "no counts, no figures"
