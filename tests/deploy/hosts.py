"""Hosts of a service on one machine: each a network namespace with a line of its own to database, broker and mail.

Where namespaces cannot be made, each host is a set of processes whose line stands still when it is cut.
"""

import os
import shutil
import signal
import socket
import subprocess
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path

from config.paths import BASE_DIR

START = BASE_DIR / "docs" / "how-to" / "deploy" / "start.sh"


@dataclass
class Host:
    """One machine of the service."""

    name: str
    folder: Path
    namespace: str  # empty without namespaces
    address: str
    gateway: str
    open: threading.Event = field(default_factory=threading.Event)
    sockets: list[socket.socket] = field(default_factory=list)
    running: list[tuple[subprocess.Popen[bytes], Path]] = field(default_factory=list)

    def line_to(self, port: int) -> str:
        """`address:port` at which this host reaches what listens on the machine's own port."""
        listener = socket.create_server((self.gateway, 0))
        self.sockets.append(listener)
        threading.Thread(target=self._accept, args=(listener, port), daemon=True).start()
        return f"{self.gateway}:{listener.getsockname()[1]}"

    def start(self, environment: Mapping[str, str], *words: str) -> Path:
        """Run the documented script with these words; its log."""
        log = self.folder / f"{words[0]}-{len(self.running)}.log"
        inside = ["ip", "netns", "exec", self.namespace] if self.namespace else []
        with log.open("wb") as output:
            process = subprocess.Popen(
                [*inside, str(START), *words],
                env=dict(environment),
                stdin=subprocess.DEVNULL,
                stdout=output,
                stderr=output,
                start_new_session=True,
            )
        self.running.append((process, log))
        return log

    def cut(self) -> None:
        """Nothing goes in or out any more."""
        self._link("down")
        self.open.clear()

    def mend(self) -> None:
        self._link("up")
        self.open.set()

    def end(self) -> None:
        self.mend()
        for process, _ in self.running:
            with suppress(ProcessLookupError):
                os.killpg(process.pid, signal.SIGTERM)
        for process, _ in self.running:
            with suppress(subprocess.TimeoutExpired):
                process.wait(20)
            with suppress(ProcessLookupError):
                os.killpg(process.pid, signal.SIGKILL)
            process.wait()
        self.running.clear()

    def _link(self, state: str) -> None:
        if self.namespace:
            _ip("link", "set", f"{self.namespace}h", state)

    def _accept(self, listener: socket.socket, port: int) -> None:
        with suppress(OSError):
            while True:
                near, _ = listener.accept()
                far = socket.create_connection(("127.0.0.1", port))
                self.sockets += [near, far]
                for one, other in ((near, far), (far, near)):
                    threading.Thread(target=self._carry, args=(one, other), daemon=True).start()

    def _carry(self, source: socket.socket, to: socket.socket) -> None:
        with suppress(OSError):
            while data := source.recv(65536):
                self.open.wait()
                to.sendall(data)
        for end in (source, to):
            with suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)


def _ip(*words: str) -> None:
    subprocess.run(["ip", *words], check=True, capture_output=True)


def namespaces_work() -> bool:
    """Whether this machine lets us make network namespaces with a link to them."""
    name = f"rcx{os.getpid()}"
    if os.geteuid() or not shutil.which("ip"):
        return False
    try:
        _ip("netns", "add", name)
        _ip("link", "add", f"{name}h", "type", "veth", "peer", "name", "eth0", "netns", name)
    except subprocess.CalledProcessError:
        return False
    finally:
        subprocess.run(["ip", "netns", "del", name], capture_output=True)
    return True


@contextmanager
def open_hosts(names: list[str], folder: Path) -> Iterator[dict[str, Host]]:
    """Hosts of these names; their processes and namespaces end with the block."""
    real = namespaces_work()
    hosts: dict[str, Host] = {}
    try:
        for number, name in enumerate(names):
            place = folder / name
            place.mkdir()
            namespace = f"rc{os.getpid() % 100_000}{number}" if real else ""
            net = f"10.{200 + os.getpid() // 200 % 50}.{os.getpid() % 200}"
            near, far = f"{net}.{number * 4 + 1}", f"{net}.{number * 4 + 2}"
            hosts[name] = Host(
                name, place, namespace, far if real else "127.0.0.1", near if real else "127.0.0.1"
            )
            hosts[name].open.set()
            if real:
                _ip("netns", "add", namespace)
                _ip(
                    "link", "add", f"{namespace}h", "type", "veth", "peer", "name", "eth0", "netns", namespace
                )
                _ip("addr", "add", f"{near}/30", "dev", f"{namespace}h")
                _ip("link", "set", f"{namespace}h", "up")
                _ip("-n", namespace, "addr", "add", f"{far}/30", "dev", "eth0")
                _ip("-n", namespace, "link", "set", "eth0", "up")
                _ip("-n", namespace, "link", "set", "lo", "up")
        yield hosts
    finally:
        for host in hosts.values():
            host.end()
            for one in host.sockets:
                one.close()
            if host.namespace:
                subprocess.run(["ip", "netns", "del", host.namespace], capture_output=True)
