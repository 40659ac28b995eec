"""Would anybody notice a hole? Opens known holes on purpose, one at a time: make mutate-access

Each hole of `tests.access.seeded` is a change of a few words in one module, made in memory only, in a process of its
own; then the tests of access run, first those that are about it, and all of them if these notice nothing. A hole that
no test minds survives and is named. A test must fail at what it asks: a world that cannot be made any more, or a
module that cannot be read, notices nothing. Ends with 1 if fewer than 95 % were noticed, with 2 if something else went
wrong. Named holes only: make mutate-access ARGS="every-yard silent-visit"
"""

import importlib.abc
import importlib.util
import os
import subprocess
import sys
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from queue import SimpleQueue
from typing import Any

from tests.access.seeded import HOLES, Mutant
from tests.access.seeded_above import HOLES_ABOVE
from tests.access.seeded_programs import HOLES_PROGRAMS

MUTANTS = (*HOLES, *HOLES_ABOVE, *HOLES_PROGRAMS)
BASE = Path(__file__).parents[2]
MATRIX = tuple(
    f"tests/access/test_{name}.py"
    for name in (
        "matrix",
        "alike",
        "choices",
        "writes",
        "left",
        "secrets",
        "crossing",
        "tokens",
        "disclosure",
    )
)
"""What has to notice: every file of this directory that is about who may see and do what."""
AT_ONCE, PATIENCE, WANTED = 2, 1500, 0.95
KILLED, SURVIVED, BROKEN = 1, 0, 3
NO_HOLE = "none"


@dataclass(frozen=True, slots=True)
class Verdict:
    """What came of one hole, and in how many seconds: which test noticed, or what else was said."""

    mutant: Mutant
    code: int
    said: str
    seconds: float


class Changed(importlib.abc.SourceLoader, importlib.abc.MetaPathFinder):
    """Gives one module from a changed source."""

    def __init__(self, mutant: Mutant) -> None:
        self.path, self.source = str(BASE / mutant.path), source_of(mutant)
        self.name = mutant.path.removesuffix(".py").replace("/", ".")

    def find_spec(self, name: str, path: Any = None, target: Any = None) -> Any:
        if name != self.name:
            return None
        return importlib.util.spec_from_file_location(name, self.path, loader=self)

    def get_filename(self, name: str) -> str:
        return self.path

    def get_data(self, path: str) -> bytes:
        return self.source.encode()

    def path_stats(self, path: str) -> Any:
        raise OSError  # nothing compiled of it is kept


def source_of(mutant: Mutant) -> str:
    """The module with the hole. Errors: ValueError, where what it changes does not stand there exactly once."""
    source = (BASE / mutant.path).read_text(encoding="utf-8")
    if source.count(mutant.old) != 1:
        raise ValueError(
            f"{mutant.name}: {mutant.path} has this {source.count(mutant.old)} times: {mutant.old}"
        )
    return source.replace(mutant.old, mutant.new)


class Judge:
    """A plugin of the test run: in which database, and whether a test failed at what it asked."""

    def __init__(self, database: str) -> None:
        self.database, self.noticed, self.stumbled = database, "", ""

    def pytest_configure(self, config: Any) -> None:
        from django.db import connection

        connection.settings_dict["TEST"]["NAME"] = self.database

    def pytest_collectreport(self, report: Any) -> None:
        if report.failed:
            self.stumbled = self.stumbled or str(report.longrepr)[-300:]

    def pytest_runtest_logreport(self, report: Any) -> None:
        if report.failed and report.when == "call":
            self.noticed = self.noticed or report.nodeid
        elif report.failed:
            self.stumbled = self.stumbled or f"{report.nodeid}: {str(report.longrepr)[-300:]}"


def child(name: str, database: str, tests: Sequence[str]) -> int:
    """In a process of its own: with the hole, run the tests until the first one notices."""
    if name != NO_HOLE:
        sys.meta_path.insert(0, Changed(next(one for one in MUTANTS if one.name == name)))
    import pytest

    judge = Judge(database)
    code = int(pytest.main(["-x", "-q", "-p", "no:cacheprovider", *tests], plugins=[judge]))
    sys.stdout.write(f"\n{judge.noticed or judge.stumbled}\n")
    if judge.noticed:
        return KILLED
    return SURVIVED if code == 0 else BROKEN


def run(name: str, database: str, tests: Sequence[str], *, anew: bool = False) -> tuple[int, str]:
    """The same from outside: what came of it, and the last line that was said."""
    words = [sys.executable, "-m", "tests.access.mutants", "--child", name, database]
    words += ["--create-db" if anew else "--reuse-db", *tests]
    done = subprocess.run(  # noqa: S603  (our own words)
        words, cwd=BASE, capture_output=True, text=True, timeout=PATIENCE, check=False,
        env={name: value for name, value in os.environ.items() if not name.startswith("PYTEST_")},
    )  # fmt: skip
    code = done.returncode if done.returncode in (KILLED, SURVIVED) else BROKEN
    lines = [line for line in done.stdout.splitlines() if line.strip()]
    said = lines[-1] if code == KILLED and lines else (done.stdout + done.stderr)[-1500:]
    return code, said


def judged(mutant: Mutant, database: str) -> Verdict:
    """First by the tests that are about it, then by all."""
    before = time.monotonic()
    code, said = run(mutant.name, database, mutant.tests)
    if code == SURVIVED:
        code, said = run(mutant.name, database, MATRIX)
    return Verdict(mutant, code, said, time.monotonic() - before)


def main(wanted: Sequence[str]) -> int:
    """Print what became of each hole."""
    unknown = set(wanted) - {one.name for one in MUTANTS}
    if unknown:
        sys.stdout.write(f"No such holes: {', '.join(sorted(unknown))}\n")
        return 2
    databases: SimpleQueue[str] = SimpleQueue()
    names = [f"test_recount_holes_{place}" for place in range(AT_ONCE)]
    halves = MATRIX[:1], MATRIX[1:]  # every answer of the table takes as long as all else
    with ThreadPoolExecutor(AT_ONCE) as pool:
        for code, said in pool.map(lambda name, tests: run(NO_HOLE, name, tests, anew=True), names, halves):
            if code != SURVIVED:
                sys.stdout.write(f"The tests fail without any hole.\n{said}\n")
                return 2
    for name in names:
        databases.put(name)

    def one(mutant: Mutant) -> Verdict:
        database = databases.get()
        try:
            return judged(mutant, database)
        finally:
            databases.put(database)

    chosen = [one for one in MUTANTS if not wanted or one.name in wanted]
    codes = []
    with ThreadPoolExecutor(AT_ONCE) as pool:
        for verdict in pool.map(one, chosen):
            codes.append(verdict.code)
            word = {KILLED: "noticed", SURVIVED: "SURVIVED"}.get(verdict.code, "BROKEN")
            told = verdict.mutant.what if verdict.code == SURVIVED else verdict.said
            sys.stdout.write(f"{verdict.mutant.name}: {word}, {verdict.seconds:.0f} s. {told}\n")
            sys.stdout.flush()
    killed = codes.count(KILLED)
    sys.stdout.write(f"noticed {killed} of {len(codes)}: {100 * killed / len(codes):.1f} %\n")
    if BROKEN in codes:
        return 2
    return 0 if killed >= WANTED * len(codes) else 1


if __name__ == "__main__":
    if sys.argv[1:2] == ["--child"]:
        sys.exit(child(sys.argv[2], sys.argv[3], sys.argv[4:]))
    sys.exit(main(sys.argv[1:]))
