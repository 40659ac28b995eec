"""Lines of the log, without the words of links that open something to whoever reads them."""

import logging
import re

_SECRET = re.compile(r"(/recount/|/mail/stop/|/join/|/calendar/|/password/reset/key/)[^/\s\"'?]+")
MASK = "…"


def masked(text: str) -> str:
    """The same text with the signed words of links left out."""
    return _SECRET.sub(rf"\1{MASK}", text)


class Masked(logging.Formatter):
    """Masks the whole line, and what an error says below it."""

    def format(self, record: logging.LogRecord) -> str:
        return masked(super().format(record))
