"""Words that somebody who knows this service would try first: OWASP ASVS 5.0.0, 6.1.2 and 6.2.11."""

import re
from collections.abc import Iterator
from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError

from apiaries.language import say
from apiaries.models import Membership

HERE = ("recount", "varroa", "beekeep", "honey", "apiary", "mites", "imker", "honig", "bienen", "milben")
"""The name of the service and words of the trade, in the languages of its pages."""
SHORTEST = 4
"""Letters of a club's or a host's word: a shorter one stands in many good passwords."""
LEAST_LEFT = 8
"""Characters beside such words: as many as the standard wants of a password at least (6.2.1)."""


class WordsOfThisPlace:
    """Refuses a password that is little more than the service's, the club's or the trade's own words."""

    def validate(self, password: str, user: Any = None) -> None:
        """ValidationError where too little is left without them."""
        left = password.lower()
        for word in sorted(set(_words(user)), key=len, reverse=True):
            left = left.replace(word, "")
        if len(left) < LEAST_LEFT and left != password.lower():
            raise ValidationError(self.get_help_text(), code="words_of_this_place")

    def get_help_text(self) -> str:
        return say(
            "Most of it is the name of the service or of your club, or a word of beekeeping: that is guessed first. "
            "Add at least 8 characters that are not."
        )


def _words(user: Any) -> Iterator[str]:
    yield from HERE
    names = [*settings.ALLOWED_HOSTS]
    if getattr(user, "pk", None):
        names += Membership.objects.current().filter(person=user).values_list("club__name", flat=True)
    for name in names:
        yield from (word for word in re.findall(r"\w+", name.lower()) if len(word) >= SHORTEST)
