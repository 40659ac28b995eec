"""What every test may ask for."""

from collections.abc import Callable
from typing import Any

import pytest
from django.conf import settings
from django.core.management import call_command
from django.test import Client

from apiaries.models import Person
from tests.cast import Cast, make_cast


@pytest.fixture
def cast(db: Any) -> Cast:
    """The cast in a fresh club (see tests.cast for who is who)."""
    return make_cast()


@pytest.fixture
def client_for() -> Callable[[Person | None], Client]:
    """A browser in which that person is signed in; None for a stranger."""

    def make(person: Person | None) -> Client:
        client = Client()
        if person is not None:
            client.force_login(person, backend=settings.AUTHENTICATION_BACKENDS[0])
        return client

    return make


@pytest.fixture
def reference(db: Any) -> None:
    """Action levels and ways of treating, loaded as an installation loads them."""
    call_command("load_reference", verbosity=0)
