"""Doses that stand, with their rounds: read at one go, and asked in several ways without another statement."""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.db.backends.postgresql.psycopg_any import DateRange
from django.db.models import QuerySet

from treatments.models import Application, Dose
from treatments.status import RoundDates


@dataclass(frozen=True, slots=True)
class Dosed:
    """What a colony got in a round; where it stands now, and whether it is gone."""

    colony_id: int
    stands_in_id: int
    ended_on: dt.date | None
    in_hive: DateRange
    ingredient: str
    round_id: int
    treatment_id: int
    treated_in_id: int
    """The yard of the treatment."""
    dates: RoundDates
    way: Application

    def is_given(self, on: dt.date) -> bool:
        """On that day or before."""
        return self.dates.is_given(on)

    def acts_within(self, first: dt.date, last: dt.date) -> bool:
        """Whether it was in the hive on any of these days, by its dates."""
        begins = self.in_hive.lower is None or self.in_hive.lower <= last
        return begins and (self.in_hive.upper is None or self.in_hive.upper > first)

    def is_not_out(self) -> bool:
        """Whether it stays in the hive and nobody noted that it was taken out."""
        return self.dates.stays and self.dates.out_on is None


COLUMNS = (
    "colony_id",
    "colony__yard_id",
    "colony__ended_on",
    "in_hive",
    "ingredient",
    "round_id",
    "round__treatment_id",
    "round__treatment__yard_id",
    "round__treatment__application_id",
    "round__planned_on",
    "round__given_on",
    "round__out_on",
    "round__out_by",
)


def read_doses(doses: "QuerySet[Dose]", ways: Iterable[Application] = ()) -> list[Dosed]:
    """Those that stand, by the day they were given. `ways` that are known need not be read. Two statements at most."""
    rows = list(doses.filter(voided_at=None).order_by("round__given_on", "pk").values_list(*COLUMNS))
    known = {way.pk: way for way in ways}
    known |= Application.objects.in_bulk({row[8] for row in rows} - set(known))
    return [_dosed(row, known) for row in rows]


def _dosed(row: tuple[Any, ...], ways: Mapping[int, Application]) -> Dosed:
    *dose, way_id, planned_on, given_on, out_on, out_by = row
    way = ways[way_id]
    dates = RoundDates(planned_on, given_on, out_on, way.stays_in_days, way.label_says_how_long, out_by)
    return Dosed(*[*dose, dates, way])
