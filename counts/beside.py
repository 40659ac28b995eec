"""What is odd about counts beside the yard's other colonies and the colony's last count.

Asked once before a count is kept, and told on its page; never a reason to refuse or to delete it.
"""

import datetime as dt
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

from apiaries.language import say
from apiaries.models import Colony
from apiaries.templatetags.recount_words import day
from counts.around import Near, around, is_before, is_round
from counts.constants import DEFAULTS
from counts.data_checks import Oddity, odd_change, odd_in_yard
from counts.models import MiteSample
from counts.presenters import raw_words
from counts.samples import JAR_KINDS, Method, kind_of
from counts.sentences import ODDITY_SENTENCES


class Counted(Protocol):
    """A count that is kept, or one that is about to be."""

    @property
    def colony(self) -> Colony: ...
    @property
    def mites(self) -> int: ...
    @property
    def bees(self) -> int | None: ...


@dataclass(frozen=True, slots=True)
class Odd:
    """What is odd about a count, in words."""

    oddity: Oddity
    sentence: str


@dataclass(frozen=True, slots=True)
class Span:
    """The days from one count of a colony to the next."""

    colony_id: int
    first: dt.date
    last: dt.date


treated_in: list[Callable[[Collection[Span]], set[Span]]] = []
"""Those who know in which spans something was in the hive. The layers point one way, so treatments registers here."""


def odd_beside(
    counts: Sequence[Counted],
    *,
    method: Method,
    on: dt.date,
    yard_id: int,
    but: MiteSample | None = None,
    among: Iterable[Near] | None = None,
) -> dict[int, list[Odd]]:
    """By colony, what is odd about these counts of one yard, method and day.

    `among`: what stands around them, where that is read already; else one query, however many. One more where one
    fell far.
    """
    kind = kind_of(method)
    jars = [one for one in counts if one.bees and one.bees >= DEFAULTS.jar_bees_min.value]
    if kind not in JAR_KINDS or not jars:
        return {}
    if among is None:
        colonies = {one.colony.pk for one in jars}
        among = around(colonies, on, yards=[yard_id], but=but.pk if but else None).near
    same = [one for one in among if one.kind is kind and one.estimated]
    found: dict[int, list[Odd]] = {}
    for colony_id in _hot(
        jars, [one for one in same if one.yard_id == yard_id and is_round(one.sampled_on, on)]
    ):
        hot = Odd(Oddity.HOT_OR_TYPING, say(ODDITY_SENTENCES[Oddity.HOT_OR_TYPING]))
        found.setdefault(colony_id, []).append(hot)
    last = {
        one.colony_id: one for one in same if is_before(one.sampled_on, on)
    }  # by day and key: the last stays
    for colony_id, change in _changes(jars, last, on):
        found.setdefault(colony_id, []).append(change)
    return found


def odd_about(sample: MiteSample) -> list[str]:
    """The same in words, for the page of one kept count."""
    if sample.voided_at is not None:
        return []
    method = Method(sample.method)
    found = odd_beside([sample], method=method, on=sample.sampled_on, yard_id=sample.yard_id, but=sample)
    return [odd.sentence for odd in found.get(sample.colony_id, [])]


def _hot(jars: Sequence[Counted], nearby: Iterable[Near]) -> list[int]:
    """Colonies of these jars far above the others of their yard; of two jars of a colony the newer one."""
    asked = {one.colony.pk for one in jars}
    by_colony = {one.colony_id: (one.mites, one.bees or 0) for one in nearby}
    by_colony |= {one.colony.pk: (one.mites, one.bees or 0) for one in jars}
    keys = list(by_colony)
    odd = odd_in_yard([by_colony[key][0] for key in keys], [by_colony[key][1] for key in keys])
    return [keys[place] for place in odd if keys[place] in asked]


def _changes(jars: Sequence[Counted], last: dict[int, Near], on: dt.date) -> Iterable[tuple[int, Odd]]:
    found: list[tuple[Span, Near, Oddity]] = []
    for jar in jars:
        before = last.get(jar.colony.pk)
        if before is None:
            continue
        numbers = before.mites, before.bees or 0, jar.mites, jar.bees or 0
        oddity = odd_change(*numbers, (on - before.sampled_on).days, treated_between=False)
        if oddity is not None:
            found.append((Span(before.colony_id, before.sampled_on, on), before, oddity))
    # Only a fall is explained by what was in the hive, and few counts fall so far: mostly nobody is asked.
    falls = [span for span, _, oddity in found if oddity is Oddity.FALL_UNTREATED]
    treated = set[Span]().union(*(asks(falls) for asks in treated_in)) if falls else set[Span]()
    for span, before, oddity in found:
        if oddity is Oddity.FALL_UNTREATED and span in treated:
            continue
        told = say("The count before: {count} on {day}.", count=raw_words(before), day=day(span.first))
        yield span.colony_id, Odd(oddity, f"{say(ODDITY_SENTENCES[oddity])} {told}")
