"""The site and the yardstick, each behind a gunicorn of its own, as a real service runs it on two cores."""

import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from pathlib import Path
from urllib.error import HTTPError
from urllib.request import Request, urlopen

import psutil

SITE, BARE, PLAIN_SITE = "config.wsgi", "tests.bench.load.bare", "tests.bench.load.plain"
WORKERS = 4  # docs/how-to/run-it-for-real.md
STARTS_WITHIN = 60.0
FORWARDED = {"X-Forwarded-Proto": "https", "X-Forwarded-For": "192.0.2.7"}
"""What the proxy in front sets; the load plays the proxy too. The address is one for documents (RFC 5737)."""


class Server:
    """One gunicorn."""

    def __init__(self, port: int, process: subprocess.Popen[bytes]) -> None:
        self.port, self.process = port, process

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def workers(self) -> list[psutil.Process]:
        return psutil.Process(self.process.pid).children()

    def cpu_seconds(self) -> float:
        """What its workers used of the cores so far."""
        return sum(sum(one.cpu_times()[:2]) for one in self.workers())

    def memory(self) -> list[float]:
        """Resident MB of each worker."""
        return [one.memory_info().rss / 2**20 for one in self.workers()]


def as_served(url: str, files: Path, secret: str) -> dict[str, str]:
    """The surroundings of a real service behind a proxy that ends TLS, with its cache in the database."""
    real = ("RECOUNT_TEST", "CACHE_URL", "CELERY_BROKER_URL", "EMAIL_URL", "DEBUG")
    kept = {name: value for name, value in os.environ.items() if name.removesuffix("_FILE") not in real}
    return kept | {
        "DATABASE_URL": url,
        "SECRET_KEY": secret,
        "ALLOWED_HOSTS": "127.0.0.1",
        "TRUSTED_PROXIES": "1",
        "RECOUNT_VAR": str(files),
        "DJANGO_SETTINGS_MODULE": "config.settings",
    }


@contextmanager
def served(
    application: str, surroundings: Mapping[str, str], log: Path, *, workers: int = WORKERS
) -> Iterator[Server]:
    """The application behind gunicorn, ended afterwards."""
    with closing(socket.socket()) as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    command = [sys.executable, "-W", "ignore", "-m", "gunicorn", application, "--no-control-socket"]
    command += ["--workers", str(workers), "--bind", f"127.0.0.1:{port}"]
    command += ["--config", "python:config.web_server"] if application == SITE else []
    with log.open("ab") as output:
        process = subprocess.Popen(command, env=dict(surroundings), stdout=output, stderr=output)
    server = Server(port, process)
    try:
        _wait_for(server, log)
        yield server
    finally:
        process.terminate()
        process.wait(timeout=60)


def _wait_for(server: Server, log: Path) -> None:
    until = time.monotonic() + STARTS_WITHIN
    while time.monotonic() < until and server.process.poll() is None:
        try:
            with urlopen(Request(f"{server.address}/account/login/", headers=FORWARDED), timeout=5):
                return
        except HTTPError:
            return  # it answers
        except OSError:
            time.sleep(0.1)
    raise RuntimeError(f"gunicorn does not answer; its log:\n{log.read_text(errors='replace')[-3000:]}")
