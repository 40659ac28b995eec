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
    """Takes mail, or answers as it is told at the greeting, MAIL, RCPT or DATA; keeps what it took."""

    def __init__(self) -> None:
        self.taken: list[EmailMessage] = []
        self.recipients: list[list[str]] = []
        self.rcpt_answers: dict[str, str] = {}
        self.data_answer = "250 OK"
        self.mail_answer = "250 OK"
        self.greeting = ""
        """Said instead of a greeting, before hanging up."""
        self.breaks = 0
        """Lines still to be cut in the middle of a mail."""
        self.lines = 0
        self.goodbyes = 0
        """How many lines were opened, and how many ended politely."""
        self.closes_after_each = False
        """Hangs up after each mail that it took."""
        self.greeting_after: tuple[int, str] | None = None
        """From so many lines on, another greeting."""
        self.slow = 0.0
        """Seconds between taking a mail and saying so."""
        self.port = 0

    async def handle_EHLO(
        self, server: SMTP, session: Session, envelope: Envelope, hostname: str, responses: list[str]
    ) -> list[str]:
        self.lines += 1
        session.host_name = hostname
        return responses

    async def handle_QUIT(self, server: SMTP, session: Session, envelope: Envelope) -> str:
        self.goodbyes += 1
        return "221 Bye"

    async def handle_MAIL(
        self, server: SMTP, session: Session, envelope: Envelope, address: str, options: list[str]
    ) -> str:
        if self.mail_answer.startswith("250"):
            envelope.mail_from = address
        return self.mail_answer

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
        self.recipients.append(envelope.rcpt_tos)

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:
        if self.breaks:
            self.breaks -= 1
            assert server.transport is not None
            server.transport.abort()
            return "250 OK"  # said to nobody
        if self.data_answer.startswith("250"):
            self.handle_message(envelope)
        if self.closes_after_each:
            assert server.transport is not None
            asyncio.get_running_loop().call_later(0.001, server.transport.close)
        await asyncio.sleep(self.slow)  # the mail is taken, and the client does not know yet
        return self.data_answer


class Doorkeeper(SMTP):
    """Says the office's other greeting, if it has one, and hangs up."""

    def connection_made(self, transport: Any) -> None:
        office = self.event_handler
        if office.greeting_after and office.lines >= office.greeting_after[0]:
            office.greeting = office.greeting_after[1]
        if greeting := office.greeting:
            transport.write(f"{greeting}\r\n".encode())
            transport.close()
        else:
            super().connection_made(transport)

    def connection_lost(self, error: Exception | None) -> None:
        if not self.event_handler.greeting:
            super().connection_lost(error)


class Building(Controller):
    """Puts the doorkeeper at the door."""

    def factory(self) -> SMTP:
        return Doorkeeper(self.handler, **self.SMTP_kwargs)


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
    controller = Building(office, hostname="127.0.0.1", port=office.port, ready_timeout=10)
    controller.start()
    try:
        yield office
    finally:
        controller.stop()
