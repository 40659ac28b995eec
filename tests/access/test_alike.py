"""What is hidden answers as what never was: the same status, the same bytes, the same headers, with every verb."""

from collections.abc import Callable
from typing import Any

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse

from apiaries.models import Person
from tests.access.answers import missing, person_named, told
from tests.access.policy import PEOPLE, rows
from tests.access.world import World
from tests.api_asking import Program

Opens = Callable[[Person | None], Client]
PAGE_VERBS = ("GET", "HEAD", "POST", "PUT", "DELETE")
API_VERBS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS")
FEWEST = 60
"""Addresses hidden from each person, at least; of them all, the table says."""


@pytest.fixture
def world(made: World, db: Any) -> World:
    return made


@pytest.mark.parametrize("person", PEOPLE)
def test_hidden_is_as_what_never_was(world: World, client_for: Opens, settings: Any, person: str) -> None:
    settings.ACCOUNT_RATE_LIMITS = False
    who = person_named(world.cast, person)
    client, program, tried = client_for(who), Program(who), 0
    for name, words, _, expected in rows():
        right = world.arguments(words)
        never = missing(right)
        if expected[person] not in ("404", "401", "in") or never == right:
            continue
        urls = [reverse(name, kwargs=kwargs) for kwargs in (right, never)]
        api = name.startswith("api:")
        for verb in API_VERBS if api else PAGE_VERBS:
            ask = program.ask if api else lambda url, verb: client.generic(verb, url)
            with transaction.atomic():
                hidden, none = (told(ask(url, verb), url) for url in urls)
                transaction.set_rollback(True)
            assert hidden == none, (name, words, verb)
        tried += 1
    assert tried >= FEWEST or person in ("alice", "bob", "ines"), tried
