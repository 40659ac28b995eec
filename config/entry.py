"""What an entry point does before Django: read the settings, start the embedded PostgreSQL where one is wanted."""

import os
import sys

from django.conf import settings
from django.core.exceptions import ImproperlyConfigured

from config.embedded import start_if_embedded
from config.embedded_place import EmbeddedError

# These work without a database; starting one for them would only cost time.
WITHOUT_DATABASE = frozenset({"check", "collectstatic", "compilemessages", "help", "makemessages", "version"})

# gunicorn gives up when a worker ends with this; with any other it would start new ones for ever.
NOT_CONFIGURED = 3


def read_settings() -> None:
    """Name the settings and read them; where they are refused, end the process with their sentence alone."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    try:
        _ = settings.SERVED
    except ImproperlyConfigured as error:
        sys.stderr.write(f"Recount does not start. {error}\n")
        sys.exit(NOT_CONFIGURED)


def prepare(command: str = "") -> None:
    """Read the settings and see that the database runs; ends the process with a clear message if it cannot."""
    read_settings()
    if command in WITHOUT_DATABASE or command.startswith("-"):
        return
    try:
        start_if_embedded()
    except EmbeddedError as error:
        sys.exit(str(error))
