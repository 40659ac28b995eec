"""One world for a file: what it takes seconds to make is made once, and every test undoes what it did."""

from collections.abc import Iterator
from typing import Any

import pytest
from django.core.management import call_command
from django.db import transaction

from tests.access.world import World, make_world
from tests.cast import make_cast


@pytest.fixture(scope="module")
def made(django_db_setup: Any, django_db_blocker: Any) -> Iterator[World]:
    """Made once; every test works in a savepoint of its own inside this transaction."""
    with django_db_blocker.unblock(), transaction.atomic():
        call_command("load_reference", verbosity=0)
        yield make_world(make_cast())
        transaction.set_rollback(True)
