"""The line to the mail server: one for a run of mails, and what came of each, in three words.

`Outage`: nobody's mail can leave. `Refused`: the server's answer to this mail. `Broken`: the line broke in the middle
of it, and the server may have it or not.
"""

import logging
import smtplib
from types import TracebackType

from django.core.mail import EmailMultiAlternatives, get_connection
from django.core.mail.backends.base import BaseEmailBackend
from django.core.mail.backends.smtp import EmailBackend

logger = logging.getLogger(__name__)

TOO_BIG = 552  # RFC 5321 4.2.3 and RFC 1870: said to the sender's line, and about this one mail
DETAIL = 300


class Outage(Exception):
    """The mail server cannot be reached, is not at work or does not know us: nobody's mail can leave."""


class Broken(Exception):
    """The line broke while a mail was handed over: perhaps the server has it."""


class Refused(Exception):
    """The server does not take this mail, now (4xx) or ever (5xx)."""

    def __init__(self, code: int, text: bytes | str, *, address: bool = False) -> None:
        super().__init__(said(code, text))
        self.for_now = code < 500
        self.address = address
        """It is the recipient that is refused and not this one mail."""


class Line:
    """Opened for the first mail, wiped between mails, opened again after a break, closed at the end of the run."""

    def __init__(self) -> None:
        self._backend: BaseEmailBackend | None = None
        self.answered = False
        """The server said yes or no to some mail: it is at work."""
        self.broken = 0
        """Mails in a row at which the line broke."""
        self.trouble = ""
        """Why nothing could leave."""

    def __enter__(self) -> "Line":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._hang_up()

    def hand_over(self, message: EmailMultiAlternatives) -> None:
        """Give the server one mail. Errors: Outage, Refused, Broken; ValueError if it is no mail that can be sent."""
        try:
            self._hand_over(message)
        except Outage as error:
            self.trouble = str(error)
            raise
        except Broken as error:
            self.trouble, self.broken = str(error), self.broken + 1
            raise
        except Refused:
            self.answered, self.broken = True, 0
            raise
        self.answered, self.broken = True, 0

    def _hand_over(self, message: EmailMultiAlternatives) -> None:
        backend = self._ready()
        try:
            backend.send_messages([message])
        except smtplib.SMTPRecipientsRefused as refused:
            code, text = next(iter(refused.recipients.values()))
            raise Refused(code, text, address=True) from refused
        except smtplib.SMTPSenderRefused as refused:
            if refused.smtp_code == TOO_BIG:
                raise Refused(refused.smtp_code, refused.smtp_error) from refused
            raise Outage(said(refused.smtp_code, refused.smtp_error)) from refused
        except smtplib.SMTPResponseException as answer:
            raise Refused(answer.smtp_code, answer.smtp_error) from answer
        except smtplib.SMTPNotSupportedError as error:  # an address that this server cannot write
            raise ValueError(str(error)) from error
        except (smtplib.SMTPException, OSError) as broken:
            raise Broken(repr(broken)[:DETAIL]) from broken

    def _ready(self) -> BaseEmailBackend:
        """An open line on which nothing is left of the mail before. One that went dead meanwhile costs no mail."""
        if self._backend is not None and _wiped(self._backend):
            return self._backend
        self._hang_up()
        self._backend = get_connection()  # ended with the run even if it is only half open: no password, say
        try:
            self._backend.open()
        except (smtplib.SMTPException, OSError) as error:
            raise Outage(_why(error)) from error
        return self._backend

    def _hang_up(self) -> None:
        backend, self._backend = self._backend, None
        try:
            if backend is not None:
                backend.close()
        except (smtplib.SMTPException, OSError):
            logger.info("the mail server hung up early")


def _wiped(backend: BaseEmailBackend) -> bool:
    """Whether the line can carry another mail; those who write files and the like begin anew each time."""
    if not isinstance(backend, EmailBackend) or backend.connection is None:
        return False
    try:
        code, _ = backend.connection.rset()
    except (smtplib.SMTPException, OSError):
        return False
    return bool(code == 250)


def _why(error: Exception) -> str:
    if isinstance(error, smtplib.SMTPResponseException):
        return said(error.smtp_code, error.smtp_error)
    return repr(error)[:DETAIL]


def said(code: int, text: bytes | str) -> str:
    """The server's answer in one line."""
    words = text.decode(errors="replace") if isinstance(text, bytes) else text
    return f"{code} {' '.join(words.split())}"[:DETAIL]
