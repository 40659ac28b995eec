"""Mite counts as they are typed at a visit: the form of a whole yard, of which all may be left empty."""

from collections.abc import Mapping
from typing import Any

from apiaries.language import say
from apiaries.models import Brood, Colony
from counts.asking import LookedUp
from counts.forms import YardCountForm
from counts.samples import JAR_KINDS, Method, kind_of
from reports.visit_rows import stripped

PREFIX = "count"
METHODS = tuple(method for method in Method if kind_of(method) in JAR_KINDS)


class VisitCountForm(YardCountForm):
    """Jars counted at the visit, dated with its day, under keys that come of its key. Boards lie for days: not here."""

    methods = METHODS

    def __init__(
        self, typed: Mapping[str, Any] | None, *, colonies: list[Colony], checks: bool, **kwargs: Any
    ) -> None:
        data = with_day_and_key(typed) if typed is not None and checks else None
        initial = kwargs.pop("initial", {}) | (stripped(typed, PREFIX) if typed is not None else {})
        super().__init__(data, colonies=colonies, prefix=PREFIX, initial=initial, **kwargs)
        if typed is not None and not checks:
            for row in self.rows:
                row.initial = stripped(typed, str(row.prefix))

    def clean(self) -> dict[str, Any]:
        if all(row.is_empty for row in self.rows):
            self.errors.clear()  # nobody counted: nothing is asked about the method either
            return self.cleaned_data
        return super().clean()

    def away(self, looked_up: LookedUp) -> dict[int, str]:
        """By colony, why it cannot be counted at this visit: it stood elsewhere on that day."""
        words = say("On that day it stood in another yard.")
        return {colony: words for colony, place in looked_up.stood.items() if place.pk != self.yard.pk}


def with_day_and_key(typed: Mapping[str, Any]) -> dict[str, Any]:
    """The boxes as the form of counts reads them: day and key are the visit's; brood is noted with the findings."""
    return {
        **typed,
        f"{PREFIX}-sampled_on": typed.get("visited_on", ""),
        f"{PREFIX}-entry_key": typed.get("entry_key", ""),
        f"{PREFIX}-brood": Brood.UNKNOWN.value,
    }
