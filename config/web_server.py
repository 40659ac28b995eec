"""gunicorn's settings: `gunicorn --config python:config.web_server config.wsgi`.

Its lines look like all others, and its processes count requests together, in a folder that is new at each start.
"""

import os
import shutil
import sys
import tempfile

from django.core.exceptions import ImproperlyConfigured

from config.entry import NOT_CONFIGURED
from config.log_settings import logging_settings

# Read once, before the processes part: they share what it is made of, and one that was killed is there again at once.
# Each on its own takes seconds of a core to start, and on a host that is busy longer than `timeout`: then it would be
# ended while it starts, again and again.
preload_app = True

FOLDER = "PROMETHEUS_MULTIPROC_DIR"  # read by prometheus_client when a web process imports it
OWN = "" if os.environ.get("PROMETHEUS_MULTIPROC_DIR") else tempfile.mkdtemp(prefix="recount-metrics-")
if OWN:
    os.environ[FOLDER] = OWN


def on_exit(server: object) -> None:
    """Called by gunicorn when its last process has ended."""
    if OWN:
        shutil.rmtree(OWN, ignore_errors=True)


try:
    logconfig_dict = logging_settings(served=True)
except ImproperlyConfigured as error:
    sys.stderr.write(f"Recount does not start. {error}\n")
    sys.exit(NOT_CONFIGURED)
logconfig_dict["loggers"] = {
    # Not through the root, which the application sets up anew.
    "gunicorn.error": {"level": "INFO", "handlers": ["console"], "propagate": False},
}
