"""Why the counts of a yard are wanted now, in the words of other apps; they register here (in their AppConfig.ready).

The layers point one way, so this app cannot ask for treatments.
"""

import datetime as dt
from collections.abc import Callable, Iterable

from apiaries.models import Yard

called_for: list[Callable[[Yard, dt.date], Iterable[str]]] = []


def reasons(yard: Yard, on: dt.date) -> list[str]:
    """All of them, a sentence each."""
    return [words for asks in called_for for words in asks(yard, on)]
