"""A real SMTP server in a process of its own, which answers as it is told. Say: python -m tests.faults.sink FILE [PORT]

Every mail it accepts stands in the file, on disk, before it says so: a line of JSON with its Message-ID, its recipient,
its text and two times, when its first address was named and when it was written down. On its standard input come
orders, a line of JSON each; it answers "ok" when they hold.
"""

import asyncio
import json
import os
import sys
import time
from dataclasses import dataclass, field
from email import message_from_bytes, policy
from typing import Any

from aiosmtpd.smtp import SMTP, Envelope, Session

HOST = "127.0.0.1"


@dataclass
class Orders:
    """How it answers. Times of the grey list are those of the test's clock."""

    up: bool = True
    slow: float = 0.0
    """Seconds between writing a mail down and saying so."""
    never: frozenset[str] = frozenset()
    """Addresses that it refuses for good."""
    grey: frozenset[str] = frozenset()
    """Addresses whose first tries it puts off, until so many minutes after the first of them."""
    grey_minutes: float = 0.0
    now: float = 0.0


@dataclass
class Sink:
    """The handler of the server."""

    out: int
    orders: Orders = field(default_factory=Orders)
    first_seen: dict[str, float] = field(default_factory=dict)
    lines: set[asyncio.BaseTransport] = field(default_factory=set)

    async def handle_EHLO(
        self, server: SMTP, session: Session, envelope: Envelope, hostname: str, responses: list[str]
    ) -> list[str]:
        session.host_name = hostname
        self.lines.add(server.transport)
        return responses

    async def handle_RCPT(
        self, server: SMTP, session: Session, envelope: Envelope, address: str, _: Any
    ) -> str:
        if address in self.orders.never:
            return "550 5.1.1 no such mailbox"
        if address in self.orders.grey:
            first = self.first_seen.setdefault(address, self.orders.now)
            if self.orders.now - first < self.orders.grey_minutes * 60:
                return "451 4.7.1 try again later"
        envelope.rcpt_tos.append(address)
        session.begun = time.time()
        return "250 OK"

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:
        message = message_from_bytes(envelope.content, policy=policy.default)
        text = message.get_body(("plain",))
        kept = {
            "id": message["Message-ID"].strip(),
            "to": envelope.rcpt_tos[0],
            "begun": session.begun,
            "at": time.time(),
            "text": "" if text is None else text.get_content(),
        }
        os.write(self.out, (json.dumps(kept) + "\n").encode())
        os.fsync(self.out)
        await asyncio.sleep(self.orders.slow)  # it is taken, and the client does not know yet
        return "250 OK"

    def hang_up(self) -> None:
        """Cut every line, as a server that dies does."""
        for line in self.lines:
            line.close()
        self.lines.clear()


async def listen(sink: Sink, port: int) -> asyncio.Server:
    """The server on this port, or on a free one for 0."""
    loop = asyncio.get_running_loop()

    def made() -> SMTP:
        return SMTP(sink, hostname="sink.example.org", loop=loop)

    return await loop.create_server(made, HOST, port, reuse_address=True, backlog=200)


async def obey(file: str, port: int = 0) -> None:
    """Serve until the standard input ends."""
    sink = Sink(os.open(file, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o600))
    server = await listen(sink, port)
    port = server.sockets[0].getsockname()[1]
    say(str(port))
    loop = asyncio.get_running_loop()
    while line := await loop.run_in_executor(None, sys.stdin.readline):
        wishes = json.loads(line)
        if "never" in wishes or "grey" in wishes:
            sink.first_seen.clear()
        wishes |= {name: frozenset(wishes[name]) for name in ("never", "grey") if name in wishes}
        was_up, sink.orders = sink.orders.up, Orders(**(vars(sink.orders) | wishes))
        if was_up and not sink.orders.up:
            server.close()
            sink.hang_up()
        elif sink.orders.up and not was_up:
            server = await listen(sink, port)
        say("ok")


def say(text: str) -> None:
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    asyncio.run(obey(sys.argv[1], *map(int, sys.argv[2:])))
