"""Counts for the tests of this app, kept through the real action."""

import datetime as dt
from decimal import Decimal

from apiaries.models import Colony
from counts.actions import NewCount, record_sample
from counts.models import MiteSample
from counts.samples import BeesBy, Method

AT = dt.datetime(2026, 9, 30, 12, 0, tzinfo=dt.UTC)


def new_count(
    colony: Colony, on: dt.date, mites: int, method: Method = Method.ALCOHOL_WASH, **more: object
) -> NewCount:
    """A wash or roll of 300 counted bees, or a board of three days."""
    if method is Method.BOARD:
        return NewCount(colony, method, on, mites, board_days=Decimal(3), **more)
    return NewCount(colony, method, on, mites, bees=300, bees_by=BeesBy.COUNTED, **more)


def count(
    colony: Colony, on: dt.date, mites: int, method: Method = Method.ALCOHOL_WASH, **more: object
) -> MiteSample:
    """Keep such a count, as the yard's keeper."""
    return record_sample(count=new_count(colony, on, mites, method, **more), at=AT, by=colony.yard.keeper)
