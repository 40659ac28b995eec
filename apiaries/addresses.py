"""Where a thing with a key stands. Django looks through its patterns for each; a page has dozens of the same kind."""

from functools import cache

from django.urls import reverse

KEY = 9_876_543_210_123_456
"""Stands for a key; no address has this number in it otherwise."""


def address_of(name: str, key: int) -> str:
    """As `reverse(name, args=[key])`, of a pattern that takes nothing but a whole number."""
    before, after = _around(name)
    return f"{before}{int(key)}{after}"


@cache
def _around(name: str) -> tuple[str, str]:
    before, after = reverse(name, args=[KEY]).split(str(KEY))
    return before, after
