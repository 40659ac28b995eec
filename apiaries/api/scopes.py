"""What a token of another program may be for, and its words. Pure."""

from enum import StrEnum

from apiaries.language import mark, say


class Scope(StrEnum):
    """Object first, then the verb. A token never opens more than its person may see and do on the pages."""

    YARDS_READ = "yards:read"
    COUNTS_READ = "counts:read"
    COUNTS_WRITE = "counts:write"
    TREATMENTS_READ = "treatments:read"
    REGIONS_READ = "regions:read"


_WORDS: dict[Scope, str] = {
    Scope.YARDS_READ: mark("read the yards you can see, and their colonies"),
    Scope.COUNTS_READ: mark("read counts and what they say"),
    Scope.COUNTS_WRITE: mark("log, correct and void counts where you may"),
    Scope.TREATMENTS_READ: mark("read treatments, recounts and outcomes"),
    Scope.REGIONS_READ: mark("read the region figures you can see"),
}


def scope_words(scope: str) -> str:
    """What a token with this scope may do, as it follows “It may”."""
    return say(_WORDS[Scope(scope)])
