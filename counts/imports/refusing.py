"""Why a whole sheet could not be read or brought in, or was read once more, in words."""

from collections.abc import Mapping
from typing import Any

from apiaries.language import mark, say
from counts.tables import Why, sentence_of

NOT_BROUGHT = "not-brought"
"""The database refused what was to be brought in."""
CHANGED = "changed"
"""Something around the sheet changed before it came in: it is read again."""
_CHANGED = mark(
    "Yards, colonies or counts changed since you looked at the sheet, so it was read again. Nothing was brought in. "
    "Look at its rows again."
)
_NOT_BROUGHT = mark(
    "The counts could not be brought in, and none of them was. Look at the rows again; if it happens again, tell the "
    "person who runs this server."
)


def refusal_words(refusal: Mapping[str, Any] | None) -> str:
    """The stored reason in the reader's language; empty where there is none."""
    if not refusal:
        return ""
    if refusal["code"] == NOT_BROUGHT:
        return say(_NOT_BROUGHT)
    if refusal["code"] == CHANGED:
        return say(_CHANGED)
    return sentence_of(Why(refusal["code"]), refusal["values"])
