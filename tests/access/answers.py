"""What an answer tells, without what is another at every request: two that are alike tell nobody which was which."""

import re
from collections.abc import Mapping
from typing import Any
from urllib.parse import quote

from apiaries.models import Person

NOBODYS = 10**8
"""A key that nothing has."""
NEVER = {"code": "22222222", "token": "nonsense", "word": "nonsense"}
"""What nobody has, in the parts of addresses that are no keys."""
EACH_TIME = ("Content-Length", "Server-Timing", "X-Request-ID")
"""The length follows from the address that stands in the page, and pages are compared themselves."""
ONCE = re.compile(
    rb"""(csrfmiddlewaretoken"\ value="|nonce="|name="(?:entry_)?key"\ value="|"entry_key":\ ")[^"]*""",
    re.VERBOSE,
)
NONCE = re.compile(r"'nonce-[^']*'")


def missing(arguments: Mapping[str, Any]) -> dict[str, Any]:
    """The same arguments, but of a thing that never was."""
    return {
        name: NOBODYS if name.endswith("pk") else NEVER.get(name, value) for name, value in arguments.items()
    }


def person_named(cast: Any, name: str) -> Person | None:
    """Somebody of the table's columns; None for the stranger."""
    return None if name == "stranger" else getattr(cast, name)


def told(response: Any, *own: str) -> tuple[int, bytes, dict[str, str]]:
    """Status, page and headers. `own`: texts that the asker sent, such as the address; they stand for nothing."""
    body = b"".join(response.streaming_content) if response.streaming else response.content
    headers = {name: NONCE.sub("", value) for name, value in response.items() if name not in EACH_TIME}
    for text in sorted({form for one in own for form in (one, quote(one, safe=""), quote(one))}, key=len)[
        ::-1
    ]:
        body = body.replace(text.encode(), b"*")
        headers = {name: value.replace(text, "*") for name, value in headers.items()}
    return response.status_code, ONCE.sub(b"*", body), headers
