"""`make demo`: the site, its worker and its beat under one roof, until Ctrl-C. Not for production.

Each child has a session of its own, so that Ctrl-C reaches only this process, which then ends them in order and stops
the embedded database. Should this process be killed outright, Linux tells the children to end as well.
"""

import ctypes
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from config.demo.scenario import PASSWORD
from config.embedded import Stop, start_if_embedded, stop_server
from config.embedded_place import EmbeddedError
from config.paths import BASE_DIR, VAR

HEALTHY = 60.0  # seconds after which an earlier crash is forgotten
LONGEST_PAUSE = 60.0
GRACE = 35.0  # a worker may be in the middle of a mail, whose time-out is 30 s
SIGN_INS = ("keeper", "helper", "coordinator", "inspector", "administrator")  # those whom load_demo lets in
PR_SET_PDEATHSIG = 1  # linux/prctl.h


class CannotServe(RuntimeError):
    """The site cannot be served; the text says why and what to do."""


@dataclass
class Child:
    """One process that is kept running, its output in a file."""

    name: str
    command: Sequence[str]
    log: Path
    process: subprocess.Popen[bytes] | None = None
    started_at: float = 0.0
    pause: float = 0.0  # before the next start; doubles with each crash
    start_at: float = field(default=0.0)

    def start(self) -> None:
        with self.log.open("ab") as output:
            self.process = subprocess.Popen(
                self.command,
                cwd=BASE_DIR,
                stdin=subprocess.DEVNULL,
                stdout=output,
                stderr=output,
                start_new_session=True,
                preexec_fn=_end_with_parent,  # noqa: PLW1509 (this process has one thread)
            )
        self.started_at = time.monotonic()

    @property
    def runs(self) -> bool:
        return self.process is not None and self.process.poll() is None

    def signal(self, number: int) -> None:
        """To the child and whatever it started: the group is its own."""
        if self.process is None:
            return
        with suppress(ProcessLookupError):
            os.killpg(self.process.pid, number)

    def last_lines(self, count: int = 15) -> str:
        return "\n".join(self.log.read_text(errors="replace").splitlines()[-count:])


class Supervisor:
    """Keeps children running until told to stop; leaves none behind."""

    def __init__(self, children: Sequence[Child], *, say: Callable[[str], None]) -> None:
        self.children = children
        self.say = say
        self.stopping = False
        self.asked_at = 0.0

    def start(self) -> None:
        for child in self.children:
            child.start()

    def watch(self, *, seconds: float | None = None) -> None:
        """Restart what crashes, with growing pauses, until `stopping` is set (or the seconds are over)."""
        until = None if seconds is None else time.monotonic() + seconds
        while not self.stopping and (until is None or time.monotonic() < until):
            for child in self.children:
                self._mend(child)
            time.sleep(0.1)

    def stop(self) -> None:
        """End all children: politely first, then not."""
        for child in self.children:
            child.signal(signal.SIGTERM)
        until = time.monotonic() + GRACE
        while any(child.runs for child in self.children) and time.monotonic() < until:
            time.sleep(0.05)
        for child in self.children:
            child.signal(signal.SIGKILL)  # also what an ended child may have left in its group
            if child.process is not None:
                child.process.wait()

    def _mend(self, child: Child) -> None:
        if child.runs:
            return
        now = time.monotonic()
        if child.process is not None:
            status = child.process.returncode
            child.signal(signal.SIGKILL)
            child.process = None
            child.pause = (
                1.0 if now - child.started_at > HEALTHY else min(LONGEST_PAUSE, max(1.0, child.pause * 2))
            )
            child.start_at = now + child.pause
            self.say(f"The {child.name} ended (status {status}); starting it again in {child.pause:.0f} s.")
        elif now >= child.start_at:
            child.start()


def _end_with_parent() -> None:
    """On Linux, have the kernel end this child when the supervisor dies without a chance to do it."""
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, signal.SIGTERM)


def port_to_serve(text: str) -> int:
    """The port, if it is a number and free; else CannotServe."""
    if not text.isdigit() or not 0 < int(text) < 65536:
        raise CannotServe(f"PORT is {text!r}: say a number from 1 to 65535, such as PORT=8001 make demo.")
    with socket.socket() as probe:
        probe.setsockopt(
            socket.SOL_SOCKET, socket.SO_REUSEADDR, 1
        )  # as gunicorn does; a live listener still refuses
        try:
            probe.bind(("127.0.0.1", int(text)))
        except PermissionError:
            raise CannotServe(
                f"Port {text} is not open to you. Choose another: PORT=8001 make demo."
            ) from None
        except OSError:
            other = int(text) % 65535 + 1
            raise CannotServe(
                f"Port {text} is in use by another program. Stop that one, or choose another port: "
                f"PORT={other} make demo."
            ) from None
    return int(text)


def children_for(port: int) -> list[Child]:
    """The web server, the worker and the beat of a first look."""
    python = sys.executable
    logs = VAR / "log"
    logs.mkdir(parents=True, exist_ok=True)
    # Loopback only: the demo's passwords are printed on the screen.
    web = ["gunicorn", "config.wsgi", "--config", "python:config.web_server", "--no-control-socket"]
    web += ["--bind", f"127.0.0.1:{port}", "--workers", "2"]
    # Solo: one process to watch. Gossip, mingle and heartbeat would leave files that nobody reads.
    worker = ["worker", "--pool", "solo", "--without-gossip", "--without-mingle", "--without-heartbeat"]
    celery = ["celery", "-A", "config"]
    commands = {
        "web": web,
        "worker": [*celery, *worker, "--loglevel", "INFO"],
        "beat": [*celery, "beat", "--pidfile", "", "--loglevel", "INFO"],
    }
    return [Child(name, [python, "-m", *command], logs / f"{name}.log") for name, command in commands.items()]


def wait_for_web(web: Child, port: int, *, stopping: Callable[[], bool], seconds: float = 60) -> None:
    """Return when the site answers; CannotServe with the end of its log if it does not."""
    until = time.monotonic() + seconds
    while time.monotonic() < until and web.runs and not stopping():
        with suppress(OSError), socket.create_connection(("127.0.0.1", port), timeout=1):
            return
        time.sleep(0.1)
    if not stopping():
        raise CannotServe(f"The site does not start. The end of {web.log}:\n{web.last_lines()}")


def greeting(port: int) -> str:
    """What a person needs to begin: the address, the demo's sign-ins, how to end it."""
    addresses = "\n".join(f"  {role}@example.org" for role in SIGN_INS)
    return (
        f"\nRecount is open at http://127.0.0.1:{port}/\n\n"
        f"Sign in with the password {PASSWORD} as one of these, all invented:\n{addresses}\n"
        "The administrator also runs this server and sees its mails.\n\n"
        f"Logs are in {VAR / 'log'}. Ctrl-C ends everything."
    )


def serve(port: int, *, say: Callable[[str], None]) -> None:
    """Run until SIGINT or SIGTERM."""
    server = start_if_embedded()
    children = children_for(port)
    supervisor = Supervisor(children, say=say)

    def ask_to_stop(number: int, frame: object) -> None:
        # A second Ctrl-C: do not wait for anybody. make may hand the first signal on, hence the second's pause.
        if supervisor.stopping and time.monotonic() - supervisor.asked_at > 1:
            for child in children:
                child.signal(signal.SIGKILL)
        elif not supervisor.stopping:
            supervisor.stopping, supervisor.asked_at = True, time.monotonic()

    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        signal.signal(number, ask_to_stop)
    try:
        supervisor.start()
        wait_for_web(children[0], port, stopping=lambda: supervisor.stopping)
        if not supervisor.stopping:
            say(greeting(port))
        supervisor.watch()
    finally:
        say("Ending ...")
        supervisor.stop()
        if server is not None and stop_server(server.place.home) is Stop.IN_USE:
            say(
                "The embedded PostgreSQL keeps running: another process uses it. End it later with `make stop`."
            )


def _say(text: str) -> None:
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


def main(arguments: Sequence[str] = ()) -> int:
    """0 after a clean end, 1 if the site could not be served. With --check-port, only say whether the port is free."""
    try:
        port = port_to_serve(os.environ.get("PORT") or "8000")
        if "--check-port" not in arguments:
            serve(port, say=_say)
    except (CannotServe, EmbeddedError) as error:
        sys.stderr.write(f"{error}\n")
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
