"""The supervisor of `make demo`, on small children that stand in for the web server, the worker and the beat."""

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import psutil
import pytest

from config import serve
from config.demo.scenario import PASSWORD
from config.serve import CannotServe, Child, Supervisor, port_to_serve, wait_for_web

SLEEPS = "import time; print('here', flush=True); time.sleep(600)"
CRASHES = "raise SystemExit(7)"
DEAF = "import signal, time; signal.signal(signal.SIGTERM, signal.SIG_IGN); print('deaf', flush=True); time.sleep(600)"
PARENT = "import subprocess, sys, time; subprocess.Popen(['sleep', '600']); print('two', flush=True); time.sleep(600)"
SUPERVISES = """
import signal, sys
from pathlib import Path
from config.serve import Child, Supervisor
child = Child("worker", [sys.executable, "-c", sys.argv[1]], Path(sys.argv[2]))
supervisor = Supervisor([child], say=print)
supervisor.start()
print(child.process.pid, flush=True)
supervisor.watch()
"""


@pytest.fixture
def make_child(tmp_path: Path) -> Iterator[Callable[..., Child]]:
    made: list[Child] = []

    def make(code: str, name: str = "worker") -> Child:
        made.append(Child(name, [sys.executable, "-c", code], tmp_path / f"{name}.log"))
        return made[-1]

    yield make
    for child in made:
        child.signal(signal.SIGKILL)


def wait_until(true: Callable[[], bool], seconds: float = 20) -> None:
    until = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < until, "waited in vain"
        time.sleep(0.05)


def says(child: Child, words: str) -> bool:
    return child.log.exists() and words in child.log.read_text()


def is_alive(pid: int) -> bool:
    return psutil.pid_exists(pid) and psutil.Process(pid).status() != psutil.STATUS_ZOMBIE


def test_healthy_children_are_left_alone(make_child: Callable[..., Child]) -> None:
    said: list[str] = []
    children = [make_child(SLEEPS, "worker"), make_child(SLEEPS, "beat")]
    supervisor = Supervisor(children, say=said.append)
    supervisor.start()
    before = [child.process.pid for child in children if child.process]

    supervisor.watch(seconds=1.5)
    supervisor.stop()

    assert said == []
    assert not any(is_alive(pid) for pid in before)


def test_killed_child_is_started_again(make_child: Callable[..., Child]) -> None:
    said: list[str] = []
    child = make_child(SLEEPS)
    supervisor = Supervisor([child], say=said.append)
    supervisor.start()
    assert child.process
    first = child.process.pid

    os.kill(first, signal.SIGKILL)
    supervisor.watch(seconds=2.5)

    assert said == ["The worker ended (status -9); starting it again in 1 s."]
    assert child.runs and child.process.pid != first
    supervisor.stop()


def test_child_that_keeps_crashing_waits_longer_each_time(make_child: Callable[..., Child]) -> None:
    said: list[str] = []
    supervisor = Supervisor([make_child(CRASHES)], say=said.append)
    supervisor.start()

    supervisor.watch(seconds=4.5)
    supervisor.stop()

    assert [line.split()[-2] for line in said] == ["1", "2", "4"]


def test_deaf_child_is_ended_after_the_grace(
    make_child: Callable[..., Child], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(serve, "GRACE", 0.3)
    child = make_child(DEAF)
    supervisor = Supervisor([child], say=print)
    supervisor.start()
    wait_until(lambda: says(child, "deaf"))

    supervisor.stop()

    assert child.process and child.process.returncode == -signal.SIGKILL


def test_children_of_children_are_ended_too(make_child: Callable[..., Child]) -> None:
    child = make_child(PARENT)
    supervisor = Supervisor([child], say=print)
    supervisor.start()
    wait_until(lambda: says(child, "two"))
    assert child.process
    family = psutil.Process(child.process.pid).children()
    assert len(family) == 1

    supervisor.stop()

    wait_until(lambda: not is_alive(family[0].pid))


def test_children_end_when_the_supervisor_is_killed(tmp_path: Path) -> None:
    command = [sys.executable, "-c", SUPERVISES, SLEEPS, str(tmp_path / "child.log")]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as supervisor:
        assert supervisor.stdout
        pid = int(supervisor.stdout.readline())
        wait_until(lambda: (tmp_path / "child.log").read_text() == "here\n")
        supervisor.kill()

    wait_until(lambda: not is_alive(pid))


@pytest.mark.parametrize("text", ["", "http", "0", "65536", "-1", "8000.5"])
def test_port_that_is_no_port_is_named(text: str) -> None:
    with pytest.raises(CannotServe, match="say a number"):
        port_to_serve(text)


def test_busy_port_names_the_way_out() -> None:
    with socket.create_server(("127.0.0.1", 0)) as busy:
        port = busy.getsockname()[1]
        with pytest.raises(CannotServe, match=f"Port {port} is in use.*PORT={port + 1} make demo"):
            port_to_serve(str(port))

    assert port_to_serve(str(port)) == port


def test_site_that_does_not_start_shows_the_end_of_its_log(make_child: Callable[..., Child]) -> None:
    web = make_child("raise SystemExit('no such table')", "web")
    web.start()

    with pytest.raises(CannotServe, match="no such table"):
        wait_for_web(web, 1, stopping=lambda: False)


def test_greeting_shows_address_and_sign_ins() -> None:
    shown = serve.greeting(8001)

    assert "http://127.0.0.1:8001/" in shown
    assert PASSWORD in shown
    for role in ("keeper", "helper", "coordinator", "inspector", "administrator"):
        assert f"{role}@example.org" in shown
