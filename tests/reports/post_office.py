"""A real SMTP server for the tests, which answers as it is told."""

import asyncio
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from email import message_from_bytes, policy
from email.message import EmailMessage
from typing import Any

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session


class PostOffice:
    """Takes mail, or answers RCPT or DATA with a given line; keeps what it took."""

    def __init__(self) -> None:
        self.taken: list[EmailMessage] = []
        self.rcpt_answers: dict[str, str] = {}
        self.data_answer = "250 OK"
        self.slow = 0.0
        """Seconds between taking a mail and saying so."""
        self.port = 0

    async def handle_RCPT(
        self, server: SMTP, session: Session, envelope: Envelope, address: str, _: Any
    ) -> str:
        answer = self.rcpt_answers.get(address, "250 OK")
        if answer.startswith("250"):
            envelope.rcpt_tos.append(address)
        return answer

    def handle_message(self, envelope: Envelope) -> None:
        parsed = message_from_bytes(envelope.content, policy=policy.default)
        assert isinstance(parsed, EmailMessage)
        self.taken.append(parsed)

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:
        if self.data_answer.startswith("250"):
            self.handle_message(envelope)
        await asyncio.sleep(self.slow)  # the mail is taken, and the client does not know yet
        return self.data_answer


def _free_port() -> int:
    """The controller wants to know its port beforehand."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


@contextmanager
def open_post_office() -> Iterator[PostOffice]:
    """A server on a free port of this machine; settings of the mail backend are the caller's."""
    office = PostOffice()
    office.port = _free_port()
    controller = Controller(office, hostname="127.0.0.1", port=office.port, ready_timeout=10)
    controller.start()
    try:
        yield office
    finally:
        controller.stop()
