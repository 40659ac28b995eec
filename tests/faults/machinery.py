"""What the fault tests hold in their hands: the mail server's process, the senders' processes, a table of figures."""

import datetime as dt
import json
import os
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from django.conf import settings

HUNG = 300.0  # seconds after which something that must end has hung
FULL = os.environ.get("RECOUNT_FAULTS") == "full"
FIGURE = "figure of a fault"  # under this name a test's report carries its rows to whoever prints them
TABLE = ("| Test | Due | Received | Doubled | Lost | Attempts | |", "|---|---|---|---|---|---|---|")


def sized(small: Any, full: Any) -> Any:
    """How many of something, or which: few on every change, many at night."""
    return full if FULL else small


def wait_until(happened: Callable[[], Any], seconds: float = HUNG, *, every: float = 0.05) -> Any:
    """What it gives once that is true; an error once it has hung."""
    until = time.monotonic() + seconds
    while not (found := happened()):
        assert time.monotonic() < until, "it never happened"
        time.sleep(every)
    return found


def is_alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


@dataclass
class Sink:
    """The mail server's process, seen from the test."""

    file: Path
    process: subprocess.Popen[str]
    port: int

    def order(self, **wishes: Any) -> None:
        """Have it answer so from now on; returns when that holds."""
        self._say(
            {
                name: list(value) if isinstance(value, (set, frozenset)) else value
                for name, value in wishes.items()
            }
        )

    def set_clock(self, at: dt.datetime) -> None:
        """What the time is for its grey list."""
        self.order(now=at.timestamp())

    def begin(self) -> None:
        """An empty mailbox and a server that takes everything at once."""
        self.order(up=True, slow=0.0, never=[], grey=[], grey_minutes=0.0)
        os.truncate(self.file, 0)

    @property
    def taken(self) -> list[dict[str, Any]]:
        """The mails it has accepted, in order; not one that is being written down at this moment."""
        lines = self.file.read_text().split("\n")[:-1]
        return [json.loads(line) for line in lines]

    def copies(self) -> Counter[str]:
        """How often each mail came."""
        return Counter(mail["id"] for mail in self.taken)

    @property
    def url(self) -> str:
        return f"smtp://127.0.0.1:{self.port}"

    def _say(self, wishes: dict[str, Any]) -> None:
        assert self.process.stdin and self.process.stdout
        self.process.stdin.write(json.dumps(wishes) + "\n")
        self.process.stdin.flush()
        assert self.process.stdout.readline() == "ok\n"


@contextmanager
def open_sink(folder: Path) -> Iterator[Sink]:
    file = folder / "taken"
    file.touch()
    process = _python("tests.faults.sink", str(file), environment=dict(os.environ))
    try:
        assert process.stdout
        yield Sink(file, process, int(process.stdout.readline()))
    finally:
        _end(process)


@dataclass
class Hand:
    """One process that works, and where its result will be."""

    pid: int
    result: Path

    @property
    def lives(self) -> bool:
        return not self.result.exists() and is_alive(self.pid)

    def kill(self, number: int = signal.SIGKILL) -> None:
        with suppress(ProcessLookupError):
            os.kill(self.pid, number)
        if number == signal.SIGKILL:
            wait_until(lambda: not is_alive(self.pid), every=0.002)

    def came_to(self) -> dict[str, int]:
        """What it did, once it has ended by itself."""
        wait_until(lambda: self.result.exists() or not is_alive(self.pid), every=0.005)
        assert self.result.exists(), "it died without a result"
        found: dict[str, int] = json.loads(self.result.read_text())
        assert "error" not in found, found["error"]
        return found


@dataclass
class Crew:
    """The process that forks senders, seen from the test."""

    folder: Path
    process: subprocess.Popen[str]
    started: list[Hand] = field(default_factory=list)

    def start(self, job: str, **wishes: Any) -> Hand:
        assert self.process.stdin and self.process.stdout
        result = self.folder / f"result-{len(self.started)}-{self.process.pid}"
        self.process.stdin.write(json.dumps({"job": job, "result": str(result), "wishes": wishes}) + "\n")
        self.process.stdin.flush()
        hand = Hand(int(self.process.stdout.readline()), result)
        self.started.append(hand)
        return hand

    def tick(self, at: dt.datetime, *, hands: int = 1, plan: bool = True) -> Counter[str]:
        """So many processes wake at the same moment; what they did together."""
        working = [self.start("tick", at=at.isoformat(), plan=plan) for _ in range(hands)]
        return sum((Counter(hand.came_to()) for hand in working), Counter())

    def end(self) -> None:
        """Kill whatever still runs."""
        for hand in self.started:
            if hand.lives:
                hand.kill()


@contextmanager
def open_crew(folder: Path, environment: dict[str, str]) -> Iterator[Crew]:
    process = _python("tests.faults.hands", environment=environment)
    crew = Crew(folder, process)
    try:
        assert process.stdout and process.stdout.readline() == "ready\n"
        yield crew
    finally:
        crew.end()
        _end(process)


@dataclass(frozen=True)
class Figure:
    """One line of the `TABLE` that a run prints at its end."""

    test: str
    due: int
    received: int
    doubled: int
    lost: int
    attempts: int
    note: str = ""

    @property
    def row(self) -> str:
        cells = (self.test, self.due, self.received, self.doubled, self.lost, self.attempts, self.note)
        return f"| {' | '.join(str(cell) for cell in cells)} |"


def _python(module: str, *arguments: str, environment: dict[str, str]) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", module, *arguments],
        cwd=settings.BASE_DIR,
        env=environment,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )


def _end(process: subprocess.Popen[str]) -> None:
    """Its standard input ends, and then it does."""
    assert process.stdin and process.stdout
    process.stdin.close()
    try:
        process.wait(10)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
    process.stdout.close()
