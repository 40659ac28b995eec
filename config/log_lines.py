"""Lines of the log, without the words of links that open something to whoever reads them."""

import logging
import re

_SECRET = re.compile(r"(/recount/|/mail/stop/|/join/|/calendar/|/password/reset/key/)[^/\s\"'?]+")
_TOKEN = re.compile(r"\brc_[a-z2-7]{8}[a-z2-7]+")
MASK = "…"


def masked(text: str) -> str:
    """The same text with the signed words of links left out, and of tokens of programs, wherever they got into."""
    return _TOKEN.sub(f"rc_{MASK}", _SECRET.sub(rf"\1{MASK}", text))


class Masked(logging.Formatter):
    """Masks the whole line, and what an error says below it."""

    def format(self, record: logging.LogRecord) -> str:
        return masked(super().format(record))
