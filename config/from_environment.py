"""Settings read from the environment. An odd value stops the start and says what to write instead."""

import os

from django.core.exceptions import ImproperlyConfigured


def yes_or_no(name: str, *, default: bool) -> bool:
    """True or False from a variable that must be exactly one of the words below."""
    words = {"1": True, "true": True, "yes": True, "0": False, "false": False, "no": False}
    value = os.environ.get(name, "").strip().lower()
    if not value:
        return default
    if value not in words:
        raise ImproperlyConfigured(f"{name} is {value!r}: say one of {', '.join(words)}.")
    return words[value]


def whole_number(name: str, *, default: int, low: int, high: int) -> int:
    """A whole number between low and high."""
    value = os.environ.get(name, "").strip()
    if not value:
        return default
    if not value.isdigit() or not low <= int(value) <= high:
        raise ImproperlyConfigured(f"{name} is {value!r}: say a whole number from {low} to {high}.")
    return int(value)
