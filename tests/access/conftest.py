"""One world for a file: what it takes seconds to make is made once, and every test undoes what it did."""

import datetime as dt
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import pytest
from django.core.management import call_command
from django.db import transaction

from apiaries.models import Membership
from config.grants import grant
from tests.access.world import World, make_world
from tests.cast import Cast, make_cast
from tests.treatments.making import jar, treat
from treatments.medicine_actions import NewPurchase, record_purchase

AT = dt.datetime(2026, 12, 1, 12, tzinfo=dt.UTC)


@pytest.fixture(scope="module")
def made(django_db_setup: Any, django_db_blocker: Any) -> Iterator[World]:
    """Made once; every test works in a savepoint of its own inside this transaction."""
    with django_db_blocker.unblock(), transaction.atomic():
        call_command("load_reference", verbosity=0)
        yield make_world(make_cast())
        transaction.set_rollback(True)


@pytest.fixture
def full(cast: Cast, reference: None) -> Cast:
    """Alice and Charlie each have counts, a treatment and a purchase; Charlie lets coordinators see his."""
    for yard in (cast.alice_yard, cast.charlie_yard):
        colonies = list(yard.colonies.order_by("pk"))[:2]
        for number, colony in enumerate(colonies):
            jar(colony, AT.date(), 3 + number)
        treat(colonies)
        bought = NewPurchase(product="Acid", bought_on=dt.date(2026, 7, 1), quantity=Decimal(100), unit="g")
        record_purchase(keeper=yard.keeper, new=bought, at=AT, by=yard.keeper)
    Membership.objects.filter(person=cast.charlie).update(shares_counts=True)
    return cast


@pytest.fixture
def lock(full: Cast, role: str) -> str:
    """The name of the service's role, with its rights."""
    grant(role)
    return role
