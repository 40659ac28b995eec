"""On whose behalf this process works at the moment: the request, the task. Each line of the log says so."""

import re
import secrets
from contextvars import ContextVar

request_id: ContextVar[str] = ContextVar("request_id", default="")
task_id: ContextVar[str] = ContextVar("task_id", default="")
task_name: ContextVar[str] = ContextVar("task_name", default="")

PLAIN = re.compile(r"[A-Za-z0-9-]{8,64}")


def is_plain(text: str) -> bool:
    """Whether an id that came from outside may stand in the log: short, and no place for anything else."""
    return PLAIN.fullmatch(text) is not None


def new_id() -> str:
    """16 letters of chance: enough to find one request in a log."""
    return secrets.token_hex(8)
