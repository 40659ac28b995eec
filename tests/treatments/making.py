"""Counts and treatments of Alice's yard for the tests of this app, kept through the real actions."""

import datetime as dt
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from apiaries.models import Brood, Colony, Person
from counts.actions import NewCount, record_sample
from counts.models import MiteSample
from counts.samples import BeesBy, Method
from treatments.actions import NewDose, NewRound, NewTreatment, record_treatment
from treatments.models import Application, Treatment

GIVEN = dt.date(2026, 8, 3)  # oxalic acid by vapour: recount from 17 Aug (ideal at once) to 31 Aug
BEFORE = dt.date(2026, 8, 1)
AFTER = dt.date(2026, 8, 18)
LATER = dt.datetime(2026, 12, 1, 12, tzinfo=dt.UTC)
TODAY = dt.date(2026, 8, 20)


def jar(colony: Colony, on: dt.date, mites: int, **more: Any) -> MiteSample:
    """A wash of 300 counted bees, unless told otherwise."""
    by: Person = more.pop("by", None) or colony.yard.keeper
    fields = {"bees": 300, "bees_by": BeesBy.COUNTED, "brood": Brood.NONE} | more
    method = fields.pop("method", Method.ALCOHOL_WASH)
    return record_sample(count=NewCount(colony, method, on, mites, **fields), at=LATER, by=by)


def board(colony: Colony, on: dt.date, mites: int, days: str = "3", **more: Any) -> MiteSample:
    """A board of three days, whole unless told otherwise."""
    count = NewCount(colony, Method.BOARD, on, mites, board_days=Decimal(days), **more)
    return record_sample(count=count, at=LATER, by=colony.yard.keeper)


def treat(
    colonies: Sequence[Colony],
    *days: dt.date,
    way: str = "oxalic_vapour_us",
    planned: Sequence[dt.date] = (),
    out_on: dt.date | None = None,
    **more: Any,
) -> Treatment:
    """A treatment of these colonies on each of the days (one, unless told), with rounds still planned after them."""
    yard = colonies[0].yard
    doses = tuple(NewDose(colony, Decimal(1)) for colony in colonies)
    given = tuple(NewRound(day, day, out_on, doses) for day in days or (() if planned else (GIVEN,)))
    new = NewTreatment(
        yard=yard,
        application=Application.objects.get(key=way),
        rounds=(*given, *(NewRound(day) for day in planned)),
        **more,
    )
    return record_treatment(new=new, at=LATER, by=yard.keeper)
