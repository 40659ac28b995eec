"""Where what `around_of` puts together is taken from: the database, for treatments of any yards; or a yard's page."""

import datetime as dt
from collections.abc import Collection, Iterable
from typing import Protocol

from django.db.backends.postgresql.psycopg_any import DateRange
from django.db.models import Q, QuerySet

from apiaries.lineage import BeesChanged, bees_changed
from apiaries.models import Colony, ColonyChange
from apiaries.on_page import YardOnPage
from counts.models import MiteSample
from counts.on_page import counts_for, made_here_for
from treatments.dosed import Dosed
from treatments.models import Dose

DoseGiven = tuple[int, int, dt.date | None, DateRange, str]
"""Colony, treatment, day, days in the hive, ingredient."""


class Source(Protocol):
    """What stands, up to a day."""

    def dosed(self, treatments: Collection[int], on: dt.date) -> Iterable[tuple[int, int]]:
        """Treatment and colony of their doses."""

    def counts(
        self, colonies: Collection[int], yards: Collection[int], first: dt.date, on: dt.date
    ) -> Iterable[MiteSample]:
        """Of these colonies, or made in these yards, from a day on; oldest first."""

    def colonies(self, keys: Collection[int]) -> dict[int, Colony]:
        """By key."""

    def given(self, colonies: Collection[int], on: dt.date) -> Iterable[DoseGiven]:
        """All doses of these colonies, in whatever treatment; by their days."""

    def bees(self, colonies: Collection[int]) -> BeesChanged:
        """What is noted of their bees and queens."""


class FromDatabase:
    """Read for the treatments of any yards: one statement each."""

    def dosed(self, treatments: Collection[int], on: dt.date) -> Iterable[tuple[int, int]]:
        doses = Dose.objects.filter(round__treatment__in=treatments, voided_at=None, round__given_on__lte=on)
        return doses.values_list("round__treatment_id", "colony_id")

    def counts(
        self, colonies: Collection[int], yards: Collection[int], first: dt.date, on: dt.date
    ) -> Iterable[MiteSample]:
        return _counts(Q(colony__in=colonies) | Q(yard__in=yards), first, on)

    def colonies(self, keys: Collection[int]) -> dict[int, Colony]:
        return Colony.objects.in_bulk(keys)

    def given(self, colonies: Collection[int], on: dt.date) -> Iterable[DoseGiven]:
        doses = Dose.objects.filter(colony__in=colonies, voided_at=None, round__given_on__lte=on)
        return doses.order_by("round__given_on", "pk").values_list(
            "colony_id", "round__treatment_id", "round__given_on", "in_hive", "ingredient"
        )

    def bees(self, colonies: Collection[int]) -> BeesChanged:
        return bees_changed(colonies)


class FromPage:
    """What a yard's page has read already, for treatments of that yard. Asked for is only what went elsewhere since."""

    def __init__(self, page: YardOnPage, doses: Collection[Dosed]) -> None:
        """`doses`: of the yard's treatments, and all of the colonies that are in it or were counted in it."""
        self._page, self._doses = page, doses
        self._here = {colony.pk: colony for colony in page.colonies}
        self._elsewhere = FromDatabase()

    def dosed(self, treatments: Collection[int], on: dt.date) -> Iterable[tuple[int, int]]:
        asked = set(treatments)
        return (
            (one.treatment_id, one.colony_id)
            for one in self._doses
            if one.treatment_id in asked and one.is_given(on)
        )

    def counts(
        self, colonies: Collection[int], yards: Collection[int], first: dt.date, on: dt.date
    ) -> Iterable[MiteSample]:
        found = [
            one
            for one in self._page.once(counts_for)
            if first <= one.sampled_on <= on and (one.colony_id in colonies or one.yard_id in yards)
        ]
        away = set(colonies) - set(self._here)
        if not away:
            return found
        found += _counts(Q(colony__in=away), first, on).exclude(yard=self._page.yard)
        return sorted(found, key=lambda one: (one.sampled_on, one.pk))

    def colonies(self, keys: Collection[int]) -> dict[int, Colony]:
        counted = {one.colony_id: one.colony for one in self._page.once(counts_for)}
        known = {**counted, **self._here}
        return known | self._elsewhere.colonies(set(keys) - set(known))

    def given(self, colonies: Collection[int], on: dt.date) -> Iterable[DoseGiven]:
        whole = set(self._here) | {one.colony_id for one in self._page.once(made_here_for)}
        found: list[DoseGiven] = [
            (one.colony_id, one.treatment_id, one.dates.given_on, one.in_hive, one.ingredient)
            for one in self._doses
            if one.colony_id in whole
            and one.colony_id in colonies
            and one.dates.given_on
            and one.is_given(on)
        ]
        away = set(colonies) - whole
        return [*found, *self._elsewhere.given(away, on)] if away else found

    def bees(self, colonies: Collection[int]) -> BeesChanged:
        return bees_changed(colonies) if self._page.may_have(ColonyChange) else BeesChanged({}, {})


def _counts(of: Q, first: dt.date, on: dt.date) -> "QuerySet[MiteSample]":
    rows = MiteSample.objects.standing().filter(of, sampled_on__gte=first, sampled_on__lte=on)
    return rows.order_by("sampled_on", "pk")
