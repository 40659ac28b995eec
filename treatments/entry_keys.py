"""An entry key is of one entry alone, also where the second lock hides that entry: its unique constraint says so."""

from contextlib import AbstractContextManager

from treatments.refused import refused_as


class EntryKeyReused(ValueError):
    """Another treatment or entry already has this entry key."""


def reuse_told() -> AbstractContextManager[None]:
    """An entry key that another entry has, as EntryKeyReused."""
    return refused_as(EntryKeyReused("Another entry has this key."), "entry_key")
