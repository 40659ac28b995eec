"""Real workers and beats of Celery beside a test, on a queue of the test's own; and a Redis that may be killed."""

import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from celery import Celery
from django.conf import settings

from config import broker_files
from tests.brokers import answers, missing
from tests.faults.machinery import wait_until
from tests.processes import environment

SOLO = ["--pool", "solo", "--without-gossip", "--without-mingle", "--without-heartbeat"]


@dataclass
class Celeries:
    """Workers and beats of one broker."""

    folder: Path
    surroundings: dict[str, str]
    broker: str
    queue: str
    running: list[subprocess.Popen[bytes]] = field(default_factory=list)

    def worker(self) -> Path:
        """Start one; its log, once it listens."""
        # Workers of one name would share a mailbox, which RabbitMQ refuses.
        log = self._start("worker", *SOLO, "--hostname", f"{self.queue}-{len(self.running)}@%h")
        wait_until(lambda: " ready." in log.read_text())
        return log

    def beat(self) -> Path:
        """Start one with a clock of its own; its log."""
        number = len(self.running)
        return self._start("beat", "--pidfile", "", "--schedule", str(self.folder / f"schedule-{number}"))

    def wake(self) -> None:
        """Put the message into the queue that the schedule would."""
        with self._app() as app:
            app.send_task("reports.tasks.wake_notices", queue=self.queue)

    def end(self) -> None:
        for process in self.running:
            process.send_signal(signal.SIGCONT)
            process.terminate()
        for process in self.running:
            try:
                process.wait(40)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()

    def _start(self, *words: str) -> Path:
        log = self.folder / f"{words[0]}-{len(self.running)}.log"
        with log.open("wb") as output:
            process = subprocess.Popen(
                [sys.executable, "-m", "celery", "-A", "tests.faults.fast", *words, "--loglevel", "INFO"],
                cwd=settings.BASE_DIR,
                env=self.surroundings,
                stdin=subprocess.DEVNULL,
                stdout=output,
                stderr=output,
            )
        self.running.append(process)
        return log

    @contextmanager
    def _app(self) -> Iterator[Celery]:
        app = Celery("test", broker=self.broker or "filesystem://", set_as_current=False)
        if not self.broker:
            files = broker_files.options(self.folder / "broker")
            app.conf.update(broker_transport="config.broker_files:Transport", broker_transport_options=files)
        try:
            yield app
        finally:
            app.close()


@contextmanager
def open_celeries(folder: Path, broker: str, mail: str) -> Iterator[Celeries]:
    """None yet; those that the test starts end with it, and so does their queue."""
    (folder / "static").mkdir()
    queue = f"recount-faults-{time.monotonic_ns()}"
    surroundings = environment(
        RECOUNT_VAR=str(folder),
        EMAIL_URL=mail,
        FAULTS_QUEUE=queue,
        LOG_LEVEL="INFO",
        CELERY_BROKER_URL=broker,
    )
    celeries = Celeries(folder, surroundings, broker, queue)
    try:
        yield celeries
    finally:
        celeries.end()
        if broker and answers(int(broker.split("/")[2].split(":")[-1])):
            with celeries._app() as app, app.connection_for_write() as connection:
                connection.default_channel.queue_delete(queue)


@dataclass
class OwnRedis:
    """A Redis server of the test's own, without memory on disk."""

    folder: Path
    port: int
    process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        return f"redis://127.0.0.1:{self.port}/0"

    def start(self) -> None:
        self.process = subprocess.Popen(
            [
                "redis-server",
                "--port",
                str(self.port),
                "--bind",
                "127.0.0.1",
                "--save",
                "",
                "--appendonly",
                "no",
            ],
            cwd=self.folder,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
        )
        wait_until(lambda: answers(self.port))

    def kill(self) -> None:
        assert self.process
        self.process.kill()
        self.process.wait()

    def drop_lines(self) -> None:
        """Cut the connection of every client."""
        import redis

        with redis.Redis(port=self.port) as client:
            for one in client.client_list():
                if one["id"] != str(client.client_id()):
                    client.client_kill_filter(_id=one["id"])


@contextmanager
def open_own_redis(folder: Path) -> Iterator[OwnRedis]:
    if shutil.which("redis-server") is None:
        missing("no redis-server: apt-get install redis-server")
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    redis = OwnRedis(folder, port)
    redis.start()
    try:
        yield redis
    finally:
        redis.kill()
