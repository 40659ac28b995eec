"""Settings of what is written to the log, and how."""

import os
from typing import Any

from django.core.exceptions import ImproperlyConfigured

LEVELS = ("DEBUG", "INFO", "WARNING", "ERROR", "CRITICAL")
FORMATS = {"line": "config.log_lines.Line", "json": "config.log_lines.Json"}


def logging_settings(*, served: bool) -> dict[str, Any]:
    """One line for each happening, to standard error; what is nobody else's business is masked."""
    form = os.environ.get("LOG_FORMAT", "").strip().lower() or "line"
    if form not in FORMATS:
        raise ImproperlyConfigured(f"LOG_FORMAT is {form!r}: say one of {', '.join(FORMATS)}.")
    level = os.environ.get("LOG_LEVEL", "").strip().upper() or ("INFO" if served else "WARNING")
    if level not in LEVELS:
        raise ImproperlyConfigured(f"LOG_LEVEL is {level!r}: say one of {', '.join(LEVELS)}.")
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {name: {"()": kind} for name, kind in FORMATS.items()},
        "handlers": {"console": {"class": "logging.StreamHandler", "formatter": form}},
        "root": {"handlers": ["console"], "level": level},
    }
