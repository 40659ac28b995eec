"""gunicorn's settings: `gunicorn --config python:config.web_server config.wsgi`. Its lines look like all others."""

import sys

from django.core.exceptions import ImproperlyConfigured

from config.entry import NOT_CONFIGURED
from config.log_settings import logging_settings

try:
    logconfig_dict = logging_settings(served=True)
except ImproperlyConfigured as error:
    sys.stderr.write(f"Recount does not start. {error}\n")
    sys.exit(NOT_CONFIGURED)
logconfig_dict["loggers"] = {
    # Not through the root, which the application sets up anew.
    "gunicorn.error": {"level": "INFO", "handlers": ["console"], "propagate": False},
}
