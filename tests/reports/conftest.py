"""Yards with counts, made through the real actions."""

import datetime as dt
from collections.abc import Callable

import pytest

from apiaries.actions import add_numbered_colonies, add_yard
from apiaries.models import Membership, Region, Yard
from apiaries.permissions import Role
from tests.cast import STARTED, Cast, make_person
from tests.reports.counting import count


@pytest.fixture
def keeper_in(cast: Cast) -> Callable[..., list[Yard]]:
    """A further member who keeps so many yards of two colonies in a region."""

    def make(name: str, region: Region, yards: int = 1) -> list[Yard]:
        keeper = make_person(name)
        Membership.objects.create(club=region.club, person=keeper, role=Role.MEMBER)
        made = []
        for number in range(1, yards + 1):
            yard = add_yard(keeper=keeper, region=region, name=f"Yard {number} of {name}", by=keeper)
            add_numbered_colonies(yard=yard, first=1, last=2, started_on=STARTED, by=keeper)
            made.append(yard)
        return made

    return make


@pytest.fixture
def counted_north(cast: Cast, keeper_in: Callable[..., list[Yard]]) -> list[Yard]:
    """Five yards of five keepers in North, washed on 5 Aug 2026: enough to publish."""
    yards = [cast.alice_yard]
    for name in ("Kim", "Lee", "Mia", "Noa"):
        yards += keeper_in(name, cast.north)
    for yard, mites in zip(yards, (0, 3, 6, 9, 12), strict=True):
        for colony in yard.colonies.order_by("pk")[:2]:
            count(colony, dt.date(2026, 8, 5), mites)
    return yards
