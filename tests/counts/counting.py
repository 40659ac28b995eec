"""Short ways to make counts in tests, through the real actions."""

import datetime as dt
import uuid
from typing import Any

from apiaries.models import Colony, Person
from counts.actions import NewCount, record_sample
from counts.models import MiteSample
from counts.samples import BeesBy, Method

AT = dt.datetime(2026, 8, 14, 10, tzinfo=dt.UTC)
DAY = dt.date(2026, 8, 12)


def wash(colony: Colony, mites: int = 9, bees: int = 300, **more: Any) -> NewCount:
    """An alcohol wash of 12 Aug 2026, the bees by a measure."""
    facts = {"method": Method.ALCOHOL_WASH, "sampled_on": DAY, "bees_by": BeesBy.VOLUME} | more
    return NewCount(colony=colony, mites=mites, bees=bees, **facts)


def kept(colony: Colony, by: Person, mites: int = 9, bees: int = 300, **more: Any) -> MiteSample:
    """The same, recorded."""
    return record_sample(count=wash(colony, mites, bees, **more), at=AT, by=by)


def typed(**more: Any) -> dict[str, str]:
    """What a keeper types for one wash of half a cup on 12 Aug 2026."""
    return {
        "entry_key": str(uuid.uuid4()),
        "method": "alcohol_wash",
        "mites": "9",
        "bees_how": "half_cup",
        "sampled_on": "12 Aug 2026",
        "brood": "unknown",
    } | {name: str(value) for name, value in more.items()}
