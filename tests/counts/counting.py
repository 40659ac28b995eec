"""Short ways to make counts in tests, through the real actions."""

import datetime as dt
import uuid
from typing import Any

from apiaries.actions import add_numbered_colonies, add_yard
from apiaries.models import Colony, Person, Region
from apiaries.permissions import Role
from counts.actions import NewCount, record_sample
from counts.models import MiteSample
from counts.samples import BeesBy, Method
from tests.cast import STARTED, Cast, join, make_person

AT = dt.datetime(2026, 8, 14, 10, tzinfo=dt.UTC)
DAY = dt.date(2026, 8, 12)
FOUND = (0, 1, 2, 0, 1, 3)


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


def fill_region(cast: Cast, keepers: int, region: Region, on: dt.date = DAY) -> list[Colony]:
    """Six yards of six colonies, shared among so many new keepers; a wash of each colony, `FOUND` in every yard."""
    people = [join(cast.club, make_person(f"Keeper{n}"), Role.MEMBER) for n in range(keepers)]
    colonies = []
    for n in range(6):
        keeper = people[n % keepers]
        yard = add_yard(keeper=keeper, region=region, name=f"Yard {n}", by=keeper)
        mine = add_numbered_colonies(yard=yard, first=1, last=6, started_on=STARTED, by=keeper)
        for colony, mites in zip(mine, FOUND, strict=True):
            kept(colony, keeper, mites, sampled_on=on)
        colonies += mine
    return colonies
