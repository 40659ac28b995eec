"""Asks one kind of page as fast as it is answered, over plain sockets.

For ceilings: a locust user spends as much time on a request as the yardstick does on its answer, and would hide how
fast that is. Every answer is read whole and looked at.
"""

import re
import socket
import threading
import time
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import islice
from urllib.parse import urlencode

from tests.bench.load.serving import FORWARDED
from tests.bench.load.world import CSRF

AT_ONCE = 8


@dataclass(frozen=True, slots=True)
class Ask:
    """A request as it goes over the wire, and what its answer must be: the status, and words in head or body.

    `further`: what to send where the answer is a question (it gets the body), or None where it is none.
    """

    wire: bytes
    status: int
    says: re.Pattern[bytes]
    further: Callable[[bytes], bytes | None] = lambda body: None


@dataclass(frozen=True, slots=True)
class Asked:
    """What came of it."""

    answers: int
    seconds: float
    errors: tuple[str, ...]

    @property
    def rate(self) -> float:
        return self.answers / self.seconds


def request(
    method: str, path: str, port: int, *, cookies: dict[str, str], form: dict[str, str] | None = None
) -> bytes:
    """A request as a browser behind the proxy sends it."""
    body = urlencode(form | {"csrfmiddlewaretoken": CSRF}).encode() if form else b""
    head = {"Host": f"127.0.0.1:{port}", "Connection": "close", "Accept-Encoding": "gzip"} | FORWARDED
    head["Cookie"] = "; ".join(f"{name}={value}" for name, value in cookies.items())
    if form:
        head |= {"Content-Type": "application/x-www-form-urlencoded", "Content-Length": str(len(body))}
        head["Origin"] = f"https://127.0.0.1:{port}"
    lines = [f"{method} {path} HTTP/1.1", *(f"{name}: {value}" for name, value in head.items() if value)]
    return "\r\n".join(lines).encode() + b"\r\n\r\n" + body


def ask_for(
    seconds: float, port: int, asks: Iterator[Ask], *, at_once: int = AT_ONCE, at_most: int | None = None
) -> Asked:
    """So many askers at once, each with the next request as soon as it has its answer; until the time is over, or
    until `at_most` were asked."""
    asks = islice(asks, at_most) if at_most else asks
    lock, errors, answers = threading.Lock(), list[str](), [0]
    begun = time.monotonic()

    def work() -> None:
        while time.monotonic() < begun + seconds:
            with lock:
                ask = next(asks, None)
            if ask is None and at_most:
                return
            if ask is None:
                errors.append("There was nothing left to ask for.")
                return
            wrong = _asked(port, ask)
            with lock:
                answers[0] += 1
                if wrong:
                    errors.append(wrong)

    threads = [threading.Thread(target=work) for _ in range(at_once)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return Asked(answers[0], time.monotonic() - begun, tuple(errors))


def _asked(port: int, ask: Ask) -> str:
    """What was wrong with the answer, or nothing. A question is answered, and both together are one answer."""
    wire: bytes | None = ask.wire
    try:
        while wire:
            head, body = _answer(port, wire)
            wire = ask.further(body)
    except OSError as error:
        return f"{error!r}"
    status = int(head[9:12] or b"0")
    if status == ask.status and ask.says.search(head + b"\n" + body):
        return ""
    return f"{ask.wire[:60]!r}: {status}, without {ask.says.pattern!r}: {about(body)!r}"


def about(body: bytes) -> bytes:
    """What the page itself says, without its head and its data."""
    said = re.sub(rb"(?s)<script.*?</script>", b" ", body.partition(b"<main")[2])
    return re.sub(rb"\s*<[^>]*>\s*", b" ", said)[:3000] or body[:3000]


def _answer(port: int, wire: bytes) -> tuple[bytes, bytes]:
    parts = []
    with socket.create_connection(("127.0.0.1", port), timeout=30) as line:
        line.sendall(wire)
        while part := line.recv(262_144):
            parts.append(part)
    head, _, body = b"".join(parts).partition(b"\r\n\r\n")
    return head, _unpacked(head, body)


def _unpacked(head: bytes, body: bytes) -> bytes:
    # GZip pages come in chunks; gunicorn sends a length with every page of ours.
    return zlib.decompress(body, 31) if b"content-encoding: gzip" in head.lower() else body
