"""The secret key of an embedded run, made once and kept where only its owner can read it."""

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured
from django.core.management.utils import get_random_secret_key


def own_secret(folder: Path) -> str:
    """The key that is kept in this folder; whichever process comes first makes it, and all get the same one."""
    place = folder / "secret_key"
    if not place.exists():
        folder.mkdir(parents=True, exist_ok=True)
        with _alone_in(folder):
            if not place.exists():
                _write(place, get_random_secret_key())
    found = place.read_text().strip()
    if not found:
        raise ImproperlyConfigured(
            f"{place} is empty. Delete it, and a new key is made; who is signed in signs in again."
        )
    return found


def _write(place: Path, value: str) -> None:
    """Whole or not at all, also where the power fails."""
    draft = place.with_name("secret_key.new")
    draft.unlink(missing_ok=True)  # of one that was killed
    with os.fdopen(os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as file:
        file.write(value)
        file.flush()
        os.fsync(file.fileno())
    draft.replace(place)


@contextmanager
def _alone_in(folder: Path) -> Iterator[None]:
    handle = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)
