"""The example of the documents, run as it stands against a real server."""

import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from counts.models import MiteSample
from counts.presenters import row_of
from counts.standing import Published
from tests.api_asking import Program
from tests.cast import Cast

EXAMPLE = Path(__file__).parents[3] / "docs" / "examples" / "log_a_wash.py"
LONGEST = 40


def _run(address: str, word: str, colony: int, mites: int) -> "subprocess.CompletedProcess[str]":
    return subprocess.run(
        [sys.executable, "-I", EXAMPLE, address, str(colony), str(mites)],
        env={"RECOUNT_TOKEN": word, "PATH": os.environ["PATH"], "TZ": "Europe/Berlin"},
        capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip


def test_example_is_short_and_needs_nothing() -> None:
    lines = EXAMPLE.read_text().splitlines()
    imported = {line.split()[1].split(".")[0] for line in lines if line.startswith(("import ", "from "))}

    assert len(lines) <= LONGEST
    assert imported <= sys.stdlib_module_names


@pytest.mark.slow
@pytest.mark.django_db(transaction=True)
def test_example_logs_a_wash_and_reads_the_verdict(cast: Cast, reference: None, live_server: Any) -> None:
    word = Program(cast.alice, "counts:read", "counts:write").word

    done = _run(live_server.url, word, cast.colony.pk, 9)

    assert done.returncode == 0, done.stderr
    sample = MiteSample.objects.get()
    row = row_of(sample, Published())
    figures, verdict = done.stdout.splitlines()
    assert figures == f"{row.rate:.1f} ({row.low:.1f} to {row.high:.1f}) per 100 bees, from 300 bees"
    assert verdict.startswith("either_side - ")
    assert (sample.recorded_by, sample.mites, sample.entry_key.version) == (cast.alice, 9, 7)


@pytest.mark.slow
@pytest.mark.django_db(transaction=True)
def test_example_says_what_is_asked_and_what_is_refused(
    cast: Cast, reference: None, live_server: Any
) -> None:
    word = Program(cast.alice, "counts:read", "counts:write").word

    asked = _run(live_server.url, word, cast.colony.pk, 60)
    refused = _run(live_server.url, "rc_wrong", cast.colony.pk, 9)

    assert asked.returncode == refused.returncode == 1
    assert "Not saved" in asked.stderr and "questions" in asked.stderr
    assert "Not saved" in refused.stderr and "401" in refused.stderr
    assert not MiteSample.objects.exists()
