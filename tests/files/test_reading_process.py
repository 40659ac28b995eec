"""The process that reads: what it knows, how it is bounded, and that nothing of it is left, however anything ends."""

import gc
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import psutil
import pytest
from django.conf import settings

from counts.tables import CannotRead, Table, read_table, reading
from counts.tables.limits import MB
from tests.files.making import YEARS, book, csv_text, packed, years_csv, years_xlsx

MOST_USED = 400 * MB
SLOW = b"hive,date\n" + b"\n" * 19_000_000  # some seconds of blank lines
LOADED = """
import sys
from counts.tables import child
from counts.tables.shapes import Choices
from counts.tables.spool import Writer
with open(sys.argv[1], "rb") as file, open(sys.argv[1] + ".rows", "wb") as out:
    assert child.read_file(file, Choices(), set(), Writer(out)).row_count == 1
print([name for name, loaded in sys.modules.items() if loaded])
"""
READS = """
import sys
from pathlib import Path
from counts.tables import read_table
read_table(Path(sys.argv[1]), name="x")
"""


def until(true: Callable[[], object], seconds: float = 20) -> None:
    """Waits for what must come true."""
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, "It did not come true."
        time.sleep(0.01)


def readers(of: psutil.Process | None = None) -> list[psutil.Process]:
    """Processes that read a file for this one, or for another."""
    return [one for one in (of or psutil.Process()).children() if "counts.tables.child" in one.cmdline()]


@pytest.fixture
def slow_file(tmp_path: Path) -> Path:
    place = tmp_path / "upload"
    place.write_bytes(SLOW)
    return place


@pytest.mark.slow
@pytest.mark.parametrize("make", [years_csv, years_xlsx], ids=["CSV", "XLSX"])
def test_100000_rows_are_read_in_little_memory(tmp_path: Path, make: Callable[[int], bytes]) -> None:
    place = tmp_path / "upload"
    place.write_bytes(make(100_000))

    with read_table(place, name="all years") as table:
        last = list(table.rows())[-1]

    assert (table.headings, table.row_count, last.n) == (YEARS, 100_000, 100_001)
    assert last.cells == (
        *("Yard 99", "40", "2022-08-16", "alcohol wash", "33", "300", None),
        *("some", "off", "rain", "member 49", "note 99999"),
    )
    assert table.peak_bytes < MOST_USED


def test_process_knows_no_framework_and_no_large_library(tmp_path: Path) -> None:
    place = tmp_path / "upload"
    place.write_bytes(packed(book(("Home", 1))))

    said = subprocess.run(
        [sys.executable, "-c", LOADED, place],
        cwd=settings.BASE_DIR,
        capture_output=True,
        check=True,
        text=True,
    )

    assert "'openpyxl'" in said.stdout
    for name in ("django", "celery", "rest_framework", "numpy", "lxml", "config.settings", "counts.models"):
        assert f"'{name}'" not in said.stdout


def test_process_gets_no_secrets(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("SECRET_KEY", "much too secret")
    given_to: list[dict[str, str]] = []
    start = subprocess.Popen

    def noted(*args: Any, **more: Any) -> Any:
        given_to.append(more["env"])
        return start(*args, **more)

    monkeypatch.setattr(reading.subprocess, "Popen", noted)
    (tmp_path / "upload").write_bytes(csv_text(("Home", 1)).encode())
    read_table(tmp_path / "upload", name="x").close()

    assert not {"SECRET_KEY", "DATABASE_URL", "EMAIL_URL", "CELERY_BROKER_URL"} & set(given_to[0])


@pytest.mark.slow
@pytest.mark.parametrize(
    ("does", "ends"),
    [
        ("while True: pass", (-signal.SIGXCPU, -signal.SIGKILL)),
        ("bytearray(400 * 2**20)", (1,)),
        ("open(sys.argv[1], 'wb').write(bytes(300 * 2**20))", (1,)),
    ],
    ids=["processor time", "memory", "files"],
)
def test_limits_hold(tmp_path: Path, does: str, ends: tuple[int, ...]) -> None:
    code = f"import sys; from counts.tables import child; child.MOST_CPU_SECONDS = 1; child.bound()\n{does}"

    done = subprocess.run(
        [sys.executable, "-c", code, tmp_path / "out"], cwd=settings.BASE_DIR, capture_output=True
    )

    assert done.returncode in ends


def test_clock_ends_it(monkeypatch: pytest.MonkeyPatch, slow_file: Path) -> None:
    monkeypatch.setattr(reading, "MOST_SECONDS", 0.3)

    with pytest.raises(CannotRead) as caught:
        read_table(slow_file, name="x")

    assert caught.value.code == "time"
    assert readers() == []


@pytest.mark.parametrize(("how", "code"), [(signal.SIGKILL, "time"), (signal.SIGTERM, "failed")])
def test_killed_reader_is_a_refusal_and_leaves_nothing_open(
    slow_file: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, how: signal.Signals, code: str
) -> None:
    spools = tmp_path / "spools"
    spools.mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(spools))
    before = psutil.Process().num_fds()
    seen: list[CannotRead] = []

    def read() -> None:
        with pytest.raises(CannotRead) as caught:
            read_table(slow_file, name="x")
        seen.append(caught.value)

    thread = threading.Thread(target=read)
    thread.start()
    until(readers)
    readers()[0].send_signal(how)
    thread.join()

    assert seen[0].code == code
    assert list(spools.iterdir()) == []
    assert readers() == []
    del seen[:]
    gc.collect()
    assert psutil.Process().num_fds() == before


def test_reader_ends_with_whoever_started_it(slow_file: Path, tmp_path: Path) -> None:
    spools = tmp_path / "spools"
    spools.mkdir()
    environment = os.environ | {"TMPDIR": str(spools)}
    with subprocess.Popen(
        [sys.executable, "-c", READS, slow_file], cwd=settings.BASE_DIR, env=environment
    ) as asker:
        until(lambda: readers(psutil.Process(asker.pid)))
        (reader,) = readers(psutil.Process(asker.pid))
        until(lambda: len(reader.threads()) > 1)
        asker.kill()

    gone, _ = psutil.wait_procs([reader], timeout=2)  # left alone, it would read on for longer

    assert gone == [reader]
    assert list(spools.iterdir()) == []


def test_rows_can_be_read_again_and_at_once(tmp_path: Path) -> None:
    (tmp_path / "upload").write_bytes(years_csv(5_000))

    with read_table(tmp_path / "upload", name="x") as table:
        one, other = table.rows(), table.rows()
        pairs = list(zip(one, other, strict=True))
        again = list(table.rows())

    assert [first for first, _ in pairs] == [second for _, second in pairs] == again
    assert len(again) == 5_000
    with pytest.raises(ValueError, match="closed"):
        next(table.rows())


def test_forgotten_table_is_given_up(tmp_path: Path) -> None:
    (tmp_path / "upload").write_bytes(csv_text(("Home", 1)).encode())
    before = psutil.Process().num_fds()

    forgotten: Table | None = read_table(tmp_path / "upload", name="x")
    assert psutil.Process().num_fds() == before + 1
    del forgotten
    gc.collect()

    assert psutil.Process().num_fds() == before
