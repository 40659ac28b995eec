"""An entry key is of one entry alone, also where the second lock hides that entry: its unique constraint says so."""

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import IntegrityError, transaction


class EntryKeyReused(ValueError):
    """Another treatment or entry already has this entry key."""


@contextmanager
def reuse_told() -> Iterator[None]:
    """An entry key that another entry has, as EntryKeyReused."""
    try:
        with transaction.atomic():
            yield
    except IntegrityError as error:
        if "entry_key" in str(error):
            raise EntryKeyReused("Another entry has this key.") from error
        raise
