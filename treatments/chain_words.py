"""The head of a medicine record's chain in words, for its page and its PDF."""

import datetime as dt

from apiaries.language import mark, say, say_many
from apiaries.templatetags.recount_words import day_and_time
from treatments.chain import Head

WHAT_FOR = mark(
    "Whoever notes the fingerprint can see later whether an entry was changed since. Everything that happens to an "
    "entry adds a link to the record's chain and makes another fingerprint."
)


def head_words(head: Head | None, zone: dt.tzinfo) -> list[str]:
    """How long the chain is, its fingerprint in short and whole; nothing before anything was recorded."""
    if head is None:
        return []
    at = day_and_time(head.at.astimezone(zone))
    links = say_many(
        "The chain of the whole record has {n} link, of {at}.",
        "The chain of the whole record has {n} links, the last of {at}.",
        head.number,
        at=at,
    )
    return [
        f"{links} {say('Its fingerprint: {short}', short=head.short)}",
        say("Whole fingerprint: {hash}", hash=head.hash),
    ]
