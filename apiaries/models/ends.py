"""What became of colonies that are gone, as the service itself writes it."""

from apiaries.language import mark, say

UNITED_WITH = mark("united with colony {what}")
NOTED_BY_MISTAKE = mark("noted by mistake: {what}")


def end_words(kept: str) -> str:
    """What became of a colony, in the reader's language where the service itself wrote it; else as it was typed.

    A sentence of the service is kept in English, whoever had it written: readers of all languages see the same row.
    """
    for words in (UNITED_WITH, NOTED_BY_MISTAKE):
        start = words.partition("{")[0]
        if kept.startswith(start):
            return say(words, what=kept.removeprefix(start))
    return kept
