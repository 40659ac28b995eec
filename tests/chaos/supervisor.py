"""Keeps a service running as an init system does: whoever ends is cleared away and started again after a pause."""

import os
import signal
import subprocess
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

import psutil
import psycopg

from config.embedded import ensure_server, stop_server
from config.embedded_place import EmbeddedError, place_of
from config.embedded_process import all_of, postmaster_of
from config.paths import BASE_DIR

LOOK = 0.05  # seconds between two looks at a service


@dataclass
class Service:
    """One service: how it is kept running, whether it answers, and how long it did not."""

    name: str
    answers: Callable[[], bool]
    outages: list[float] = field(default_factory=list)
    up: bool = False
    ending: threading.Event = field(default_factory=threading.Event)
    threads: list[threading.Thread] = field(default_factory=list)

    def begin(self) -> None:
        for work in (self.keep, self.watch):
            self.threads.append(
                threading.Thread(target=work, daemon=True, name=f"{work.__name__} {self.name}")
            )
            self.threads[-1].start()

    def keep(self) -> None:
        """Start it and start it again until the end."""
        raise NotImplementedError

    def watch(self) -> None:
        """Write down from when to when it did not answer."""
        since = None
        while not self.ending.wait(LOOK):
            self.look()
            answers = self.answers()
            if answers and since is not None and self.up is False:
                self.outages.append(time.monotonic() - since)
            if answers:
                since = None
            elif since is None and self.up:
                since = time.monotonic()
            self.up = answers

    def look(self) -> None:
        """At each look, whatever else is to be seen to while `keep` may be waiting for it to start."""

    def pids(self, part: str) -> list[int]:
        """The processes of a part: `main`, `one` of its children, or `all`."""
        raise NotImplementedError

    def end(self) -> None:
        self.ending.set()
        for thread in self.threads:
            thread.join(60)


@dataclass
class Program(Service):
    """A program that stays in the foreground."""

    command: Sequence[str] = ()
    environment: Mapping[str, str] = field(default_factory=dict)
    log: Path = Path()
    told: str = ""
    """Written to its standard input when it starts."""
    pause: float = 0.5
    process: subprocess.Popen[bytes] | None = None
    begun_at: int = 0
    """Where in the log its present process began."""

    def keep(self) -> None:
        while not self.ending.is_set():
            with self.log.open("ab") as output:
                self.begun_at = output.tell()
                self.process = subprocess.Popen(
                    self.command,
                    cwd=BASE_DIR,
                    env=dict(self.environment),
                    stdin=subprocess.PIPE,
                    stdout=output,
                    stderr=output,
                    start_new_session=True,
                )
            assert self.process.stdin
            with suppress(BrokenPipeError):
                self.process.stdin.write(self.told.encode())
                self.process.stdin.flush()
            while self.process.poll() is None and not self.ending.wait(LOOK):
                pass
            self._clear_away()
            self.ending.wait(self.pause)

    def said(self) -> str:
        """What its present process wrote."""
        with self.log.open("rb") as log:
            log.seek(self.begun_at)
            return log.read().decode(errors="replace")

    def lives(self) -> bool:
        return self.process is not None and self.process.poll() is None

    def pids(self, part: str) -> list[int]:
        if not self.process:
            return []
        with suppress(psutil.NoSuchProcess):
            main = psutil.Process(self.process.pid)
            children = [child.pid for child in main.children()]
            return {"main": [main.pid], "one": children[:1], "all": [main.pid, *children]}[part]
        return []

    def _clear_away(self) -> None:
        """What is left of it is asked to end, then made to: no orphan keeps the port or goes on with a task."""
        assert self.process and self.process.stdin
        for number, patience in ((signal.SIGTERM, 10.0), (signal.SIGKILL, 5.0)):
            until = time.monotonic() + patience
            with suppress(ProcessLookupError):
                os.killpg(self.process.pid, number)
                while time.monotonic() < until:
                    self.process.poll()
                    os.killpg(self.process.pid, 0)
                    time.sleep(LOOK)
        self.process.wait()
        with suppress(BrokenPipeError):
            self.process.stdin.close()


@dataclass
class Database(Service):
    """A PostgreSQL of its own, kept running by what the project itself starts it with."""

    home: Path = Path()
    smart: float = 5.0
    """Seconds that a smart shutdown, which waits for every connection, is given before a fast one."""
    asked: float | None = None

    def keep(self) -> None:
        while not self.ending.wait(LOOK):
            if not postmaster_of(place_of(self.home).data):
                self.asked = None
                # Killed once more while it started: it is tried again.
                with suppress(EmbeddedError, psycopg.OperationalError):
                    ensure_server(self.home)

    def look(self) -> None:
        """One that was asked to end and still waits for its clients is told to send them away."""
        if self.asked is not None and time.monotonic() - self.asked > self.smart:
            self.asked = None
            for pid in self.pids("main"):
                with suppress(ProcessLookupError):
                    os.kill(pid, signal.SIGINT)

    def pids(self, part: str) -> list[int]:
        data = place_of(self.home).data
        master = postmaster_of(data)
        main = [master.pid] if master else []
        others = [pid for pid in all_of(data) if pid not in main]
        backends = [pid for pid in others if _is_of_a_client(pid)]
        return {"main": main, "one": backends[:1], "all": [*main, *others]}[part]

    def end(self) -> None:
        super().end()
        stop_server(self.home, force=True)


def _is_of_a_client(pid: int) -> bool:
    with suppress(psutil.NoSuchProcess):
        title = " ".join(psutil.Process(pid).cmdline())
        return "recount" in title and "postgres:" in title
    return False
