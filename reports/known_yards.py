"""What is known of yards that somebody may see: the newest counts, what they say, what of treatments is open.

A constant number of queries, however many yards are asked about.
"""

import datetime as dt
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any, TypeVar

from django.db.models import Count, OuterRef, Q, QuerySet, Subquery

from apiaries.language import say
from apiaries.models import Person, Yard
from counts.models import MiteSample
from counts.presenters import CountRow, fill_in, rows_of
from counts.standing import NO_ISSUER, NO_LEVEL, SEVERAL, Published
from counts.yards import YardSays, yards_say
from treatments.recount_rules import RecountStatus
from treatments.yard_states import YardTreatment, yard_treatments

STALE_DAYS = 60
"""A yard that was not counted for so many days is pointed out (our choice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownYard:
    """One yard, and what is known of it."""

    yard: Yard
    living: int
    says: YardSays | None
    newest: CountRow | None
    days_since: int | None
    treatments: Sequence[YardTreatment] = ()

    @property
    def key(self) -> str:
        """Its standing: of the yard's mean, else of its newest count; "none" for a yard that was never counted."""
        if self.says is not None:
            return self.says.key if self.says.estimate.comparable else "not_enough"
        return self.newest.said.key if self.newest else "none"

    @property
    def note(self) -> str:
        """Why there is no verdict, in short."""
        if self.says is None:
            return self.newest.said.note if self.newest else ""
        if not self.says.estimate.comparable:
            return say("too few colonies")
        acting = [one for one in self.says.compared if one.level.act_rate is not None]
        if not acting:
            return say(NO_LEVEL if self.yard.club.action_level_issuer else NO_ISSUER)
        return say(SEVERAL) if len({one.standing for one in acting}) > 1 else ""

    @property
    def rate(self) -> float:
        """What it is sorted by among its like; 0 where there is no figure."""
        known = self.says or self.newest
        return (known.rate if known else None) or 0.0

    @property
    def is_above(self) -> bool:
        return self.key == "above"

    @property
    def is_late(self) -> bool:
        """Whether the recount of a treatment is late and can still be made."""
        return any(one.recount == RecountStatus.LATE for one in self.treatments)

    @property
    def is_stale(self) -> bool:
        """Whether nobody counted there for long, or ever."""
        return self.days_since is None or self.days_since > STALE_DAYS

    @property
    def last_on(self) -> dt.date:
        """Its newest count; long ago for a yard that was never counted."""
        return self.newest.sample.sampled_on if self.newest else dt.date.min


Row = TypeVar("Row", bound=KnownYard)


def known_yards(person: Person, yards: "QuerySet[Yard]", on: dt.date) -> list[KnownYard]:
    """The yards with what the person may see of them, in the order of their keys."""
    counted = Count("colonies", filter=Q(colonies__ended_on=None))
    rows: Any = yards.order_by("pk").select_related("region", "keeper", "club").annotate(living=counted)
    by_key: dict[int, Any] = {yard.pk: yard for yard in rows}
    living = {pk: yard.living for pk, yard in by_key.items()}
    visible = MiteSample.objects.visible_to(person).standing()
    published = Published()
    says = yards_say(by_key.values(), visible, published, living=living)
    last = list(visible.filter(pk__in=_newest_of(by_key)))
    fill_in(last, yards=by_key.values())
    newest = {row.sample.yard_id: row for row in rows_of(last, published)}
    return [
        KnownYard(
            yard=yard,
            living=living[pk],
            says=says.get(pk),
            newest=(row := newest.get(pk)),
            days_since=(on - row.sample.sampled_on).days if row else None,
        )
        for pk, yard in by_key.items()
    ]


def _newest_of(yards: Collection[int]) -> list[int]:
    """The key of each yard's newest count: looked up from yard to yard, not out of all counts."""
    counts = MiteSample.objects.standing().filter(yard=OuterRef("pk")).order_by("-sampled_on", "-pk")
    newest = Subquery(counts.values("pk")[:1])
    rows = Yard.objects.filter(pk__in=yards).order_by().values_list(newest, flat=True)
    return [pk for pk in rows if pk is not None]


def with_treatments(rows: Iterable[Row], on: dt.date) -> list[Row]:
    """The same with what of treatments is open there."""
    listed = list(rows)
    found = yard_treatments([row.yard for row in listed], on)
    return [replace(row, treatments=found.get(row.yard.pk, ())) for row in listed]


def to_look_at(row: KnownYard) -> tuple[bool, bool, float, bool, dt.date, str, int]:
    """Most to look at first: above the level, the highest of them first; late recounts; not counted for longest.

    Rates per 100 bees and per day are not compared: yards of which there is a board alone come after the others.
    """
    high = (row.says is None, -row.rate) if row.is_above else (False, 0.0)
    return not row.is_above, *high, not row.is_late, row.last_on, row.yard.name, row.yard.pk
