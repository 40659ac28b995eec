"""What an entry point does before Django: start the embedded PostgreSQL, if one is used and the command needs it."""

import os
import sys

from config.embedded import start_if_embedded
from config.embedded_place import EmbeddedError

# These work without a database; starting one for them would only cost time.
WITHOUT_DATABASE = frozenset({"check", "collectstatic", "compilemessages", "help", "makemessages", "version"})


def prepare(command: str = "") -> None:
    """Name the settings and see that the database runs; ends the process with a clear message if it cannot."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    if command in WITHOUT_DATABASE or command.startswith("-"):
        return
    try:
        start_if_embedded()
    except EmbeddedError as error:
        sys.exit(str(error))
