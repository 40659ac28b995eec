"""Settings of what is written to the log, and how."""

from typing import Any


def logging(level: str) -> dict[str, Any]:
    """One line for each happening, to the console; secrets masked."""
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {
            "line": {
                "()": "config.log_lines.Masked",
                "format": "{asctime} {levelname} {name} {message}",
                "style": "{",
            }
        },
        "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
        "root": {"handlers": ["console"], "level": level},
    }
