"""Numbers for Prometheus: behind a token, over all processes of a host, with labels that no visitor chooses."""

import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from prometheus_client.parser import text_string_to_metric_families

from config.paths import BASE_DIR
from reports.pausing import pause_sending
from reports.planner import found_paused, plan_notices
from reports.work import note_work
from tests.reports.treating import at

NOW = at("08-20", 9)
TOKEN = "a-token-of-twenty-letters-or-more"
DOC = BASE_DIR / "docs" / "reference" / "metrics.md"


@pytest.fixture
def token(settings: Any) -> dict[str, str]:
    settings.METRICS_TOKEN = TOKEN
    return {"Authorization": f"Bearer {TOKEN}"}


def _asked(token: dict[str, str]) -> dict[str, Any]:
    answer = Client(headers=token).get("/metrics", headers={"host": "10.1.2.3:8000"})
    assert answer.status_code == 200 and answer["Content-Type"].startswith("text/plain")
    return {one.name: one for one in text_string_to_metric_families(answer.content.decode())}


def test_without_a_token_of_the_setting_there_is_nothing() -> None:
    assert Client(headers={"Authorization": "Bearer "}).get("/metrics").status_code == 404


@pytest.mark.parametrize(
    "sent", ["", "Bearer", "Bearer wrong", f"Basic {TOKEN}", TOKEN, f"Bearer {TOKEN}x", "Bearer é"]
)
def test_who_has_no_token_is_told_nothing(token: dict[str, str], sent: str) -> None:
    answer = Client(headers={"Authorization": sent}).get("/metrics")

    assert (answer.status_code, answer["WWW-Authenticate"]) == (401, "Bearer")
    assert b"recount" not in answer.content


@pytest.mark.django_db
def test_numbers_of_the_service(token: dict[str, str], cast: Any, reference: None, time_machine: Any) -> None:
    time_machine.move_to(NOW, tick=False)
    told = _asked(token)
    assert "recount_last_backup_age_seconds" not in told, "there was none: left out, and not 0"
    plan_notices(at=at("08-20", 8))
    note_work("mails", host="work1", at=at("08-20", 8, 50), ok=True, took_ms=5)

    told = _asked(token)
    values = {one.name: one.samples[0].value for one in told.values() if one.samples}
    assert values["recount_last_tick_age_seconds"] == 3600
    assert values["recount_sending_paused"] == 0
    assert (
        values["recount_mails_late"] == values["recount_imports_open"] == values["recount_region_marks"] == 0
    )
    ages = {one.labels["work"]: one.value for one in told["recount_work_age_seconds"].samples}
    late = {one.labels["work"]: one.value for one in told["recount_work_late"].samples}
    assert ages == {"mails": 600} and (late["mails"], late["notices"]) == (0, 1)


@pytest.mark.django_db
def test_a_pause_is_told_and_the_tick_goes_on(token: dict[str, str], time_machine: Any) -> None:
    time_machine.move_to(NOW, tick=False)
    pause_sending(at=at("08-20", 8), why="The data was restored.")
    found_paused(at=at("08-20", 8, 50))

    told = _asked(token)

    assert told["recount_sending_paused"].samples[0].value == 1
    assert told["recount_last_tick_age_seconds"].samples[0].value == 600


@pytest.mark.django_db
def test_labels_are_the_programs_own(token: dict[str, str]) -> None:
    client = Client()
    for path in ("/recount/SECRET-word/", "/no-such-page-of-mine/", "/livez"):
        client.get(path)
    client.generic("BREW", "/livez")
    told = _asked(token)

    seen = {
        tuple(one.labels.get(name) for name in ("route", "method", "status"))
        for one in told["recount_requests"].samples
    }
    assert {("reports:recount-entry", "GET", "404"), ("none", "GET", "404"), ("livez", "GET", "200")} <= seen
    assert ("livez", "OTHER", "405") in seen
    assert not any("SECRET" in str(one) or "BREW" in str(one) for one in seen)


@pytest.mark.django_db
def test_each_number_is_documented(token: dict[str, str], cast: Any, time_machine: Any) -> None:
    from reports.backups import note_backup

    time_machine.move_to(NOW, tick=False)
    plan_notices(at=NOW)
    note_backup(begun_at=NOW, ended_at=NOW, bytes_=1, rows=1)
    names = {name if name != "recount_requests" else "recount_requests_total" for name in _asked(token)}
    written = set(re.findall(r"^\| `(recount_\w+)` \|", DOC.read_text(), re.MULTILINE))

    assert {name for name in names if not name.endswith("_created")} == written


COUNTING = """
from config.metrics import SEVERAL, count_request
assert SEVERAL
count_request(route="reports:today", method="GET", status=200, took=0.03)
"""
READING = """
from prometheus_client import CollectorRegistry, generate_latest, multiprocess
told = CollectorRegistry()
multiprocess.MultiProcessCollector(told)
print(generate_latest(told).decode())
"""


def test_processes_of_a_host_count_together(tmp_path: Path) -> None:
    """Three web processes, two of which have ended before anybody asks."""
    from os import environ

    surroundings = environ | {
        "PROMETHEUS_MULTIPROC_DIR": str(tmp_path),
        "RECOUNT_TEST": "1",
        "DATABASE_URL": "postgres://a@b/test_c",
    }
    begin = (
        "import os; os.environ['DJANGO_SETTINGS_MODULE'] = 'config.settings'\nimport django; django.setup()\n"
    )
    for _ in range(2):
        subprocess.run([sys.executable, "-c", begin + COUNTING], env=surroundings, cwd=BASE_DIR, check=True)
    last = [sys.executable, "-c", begin + COUNTING + READING]
    said = subprocess.run(
        last, env=surroundings, cwd=BASE_DIR, check=True, capture_output=True, text=True
    ).stdout

    assert 'recount_requests_total{method="GET",route="reports:today",status="200"} 3.0' in said
    assert 'recount_request_seconds_bucket{le="0.05",route="reports:today"} 3.0' in said


def test_each_start_of_the_web_server_counts_from_nought(tmp_path: Path) -> None:
    from os import environ

    asked = (
        "import os; from config import web_server as w; "
        "print(w.OWN, os.listdir(w.OWN)); w.on_exit(None); print(os.path.exists(w.OWN))"
    )
    surroundings = {name: value for name, value in environ.items() if name != "PROMETHEUS_MULTIPROC_DIR"}
    said = [
        subprocess.run(
            [sys.executable, "-c", asked],
            env=surroundings | {"TMPDIR": str(tmp_path)},
            cwd=BASE_DIR,
            check=True,
            capture_output=True,
            text=True,
        ).stdout.split()
        for _ in range(2)
    ]

    assert said[0][0] != said[1][0] and [one[1:] for one in said] == [["[]", "False"]] * 2
