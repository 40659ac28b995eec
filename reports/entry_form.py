"""The form that a link in a mail opens: a yard's counts, narrowed to one recount, telling nothing of other counts."""

from typing import Any

from apiaries.language import mark, say
from apiaries.templatetags.recount_words import day
from counts.actions import NewCount
from counts.asking import LookedUp, asks_about
from counts.forms import YardCountForm
from counts.forms.basics import METHOD_LABELS
from counts.measuring import HALF_CUP
from counts.samples import kind_of
from reports.entry_access import Entry

ELSEWHERE = mark(
    "On that day it did not stand in this yard. Leave its row empty, and sign in to add this count."
)
ANOTHER = mark("There is a count of this colony, method and day already. Is this one more count?")
ODD = mark("This is far from what other counts of this yard say. Is it right?")


class EntryForm(YardCountForm):
    """Methods, colonies and days are the link's, whatever was sent."""

    def __init__(self, *args: Any, entry: Entry, **kwargs: Any) -> None:
        self.methods = tuple(method for method in YardCountForm.methods if kind_of(method) in entry.kinds)
        start: dict[str, Any] = {"bees_how": HALF_CUP}
        if len(self.methods) == 1:
            start["method"] = self.methods[0].value
        yard = entry.recount.treatment.yard
        super().__init__(
            *args,
            yard=yard,
            person=entry.person,
            today=entry.today,
            initial=start,
            colonies=list(entry.colonies),
            **kwargs,
        )
        when: Any = self.fields["sampled_on"]
        when.earliest = entry.recount.earliest_on
        first = day(entry.recount.earliest_on)
        when.earliest_words = say("This recount counts from {day} on.", day=first)

    @property
    def method_words(self) -> list[str]:
        """The methods that suit the recount."""
        return [say(METHOD_LABELS[method.value]) for method in self.methods]

    def away(self, looked_up: LookedUp) -> dict[int, str]:
        stood = looked_up.stood.items()
        return {colony: say(ELSEWHERE) for colony, place in stood if place.pk != self.yard.pk}

    def asked_of(self, counts: list[NewCount], looked_up: LookedUp) -> dict[int, list[str]]:
        """The same questions, without the other counts' numbers: who has the mail need not be the keeper."""
        return {
            count.colony.pk: asks_about(count, [])
            + ([say(ANOTHER)] if looked_up.same_day.get(count.colony.pk) else [])
            + ([say(ODD)] if looked_up.beside.get(count.colony.pk) else [])
            for count in counts
        }
