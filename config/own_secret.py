"""The secret key of an embedded run, made once and kept where only its owner can read it."""

import os
import tempfile
from contextlib import suppress
from pathlib import Path

from django.core.management.utils import get_random_secret_key


def own_secret(folder: Path) -> str:
    """The key that is kept in this folder; whichever process comes first makes it, and all get the same one."""
    place = folder / "secret_key"
    if not place.exists():
        folder.mkdir(parents=True, exist_ok=True)
        # It appears whole or not at all: a worker and a beat that start together would else read half of it.
        handle, draft = tempfile.mkstemp(dir=folder, prefix="secret_key_")
        try:
            with os.fdopen(handle, "w") as file:
                file.write(get_random_secret_key())
            with suppress(FileExistsError):
                os.link(draft, place)
        finally:
            os.unlink(draft)
    return place.read_text().strip()
