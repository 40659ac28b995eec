"""Celery's side of the log: our lines instead of its own, and ids that go with a task to whoever does it."""

import logging
import logging.config
from typing import Any

from celery import signals
from django.conf import settings

from config.log_context import is_plain, request_id, task_id, task_name

HEADER = "recount_request"


@signals.setup_logging.connect
def use_our_log(loglevel: int | str | None = None, **_: Any) -> None:
    """That this is connected keeps Celery from making handlers of its own, which would write errors with all words."""
    logging.config.dictConfig(settings.LOGGING)
    if loglevel:
        logging.getLogger("celery").setLevel(loglevel)


@signals.before_task_publish.connect
def send_along(headers: dict[str, Any] | None = None, **_: Any) -> None:
    if headers is not None and request_id.get():
        headers[HEADER] = request_id.get()


@signals.task_prerun.connect
def begin(task: Any = None, **told: Any) -> None:
    _set(str(told.get("task_id", "")), getattr(task, "name", ""), _sent_along(task))


@signals.task_postrun.connect
def end(**_: Any) -> None:
    _set("", "", "")


def _set(number: str, name: str, request: str) -> None:
    task_id.set(number)
    task_name.set(name)
    request_id.set(request)


def _sent_along(task: Any) -> str:
    request = getattr(task, "request", None)
    sent = getattr(request, HEADER, None) or (getattr(request, "headers", None) or {}).get(HEADER)
    return sent if isinstance(sent, str) and is_plain(sent) else ""
