"""Each language remembers the sentences it was asked for: one look-up each, in a process that serves."""

from functools import lru_cache

from django.conf import settings
from django.utils.translation.trans_real import translation

MOST = 10_000
"""Of a language; all catalogues together have some 4,000."""


def remember() -> None:
    """Once at the start, after the apps are loaded. The answers stay the same: catalogues are read once a process.

    Without it English, which has none of our words to look up, asks the catalogues of five packages for every word of
    every page, each for one and for many, before the word stands for itself.
    """
    for code, _ in settings.LANGUAGES:
        told = translation(code)
        told.gettext = lru_cache(MOST)(told.gettext)  # type: ignore[method-assign]
