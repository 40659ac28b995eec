"""Every address × every person × the expected answer. An address that is missing from the table fails."""

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from apiaries.actions import end_membership, set_operator, set_sharing
from apiaries.models import Person
from tests.access.policy import OPERATOR, PEOPLE, rows
from tests.access.world import AT, World
from tests.cast import Cast

ROWS = rows()


@pytest.fixture
def world(made: World, db: Any) -> World:
    return made


def _names(resolver: Any, prefix: str = "") -> Iterator[str]:
    for pattern in resolver.url_patterns:
        if isinstance(pattern, URLResolver):
            yield from _names(pattern, f"{prefix}{pattern.namespace}:" if pattern.namespace else prefix)
        elif isinstance(pattern, URLPattern):
            yield f"{prefix}{pattern.name}"


def _answer(client: Client, verb: str, url: str) -> str:
    response = client.post(url) if verb == "POST" else client.get(url)
    to_sign_in = response.status_code == 302 and response["Location"].startswith(reverse("account_login"))
    return "in" if to_sign_in else str(response.status_code)


def _person(cast: Cast, name: str) -> Person | None:
    return None if name == "stranger" else getattr(cast, name)


def test_table_names_every_address_and_no_other() -> None:
    assert {name for name, *_ in ROWS} == set(_names(get_resolver()))


@pytest.mark.parametrize("person", PEOPLE)
@pytest.mark.parametrize(
    ("name", "words", "verb", "expected"), ROWS, ids=[f"{row[0]} {row[1]}" for row in ROWS]
)
def test_answer(
    world: World,
    client_for: Callable[[Person | None], Client],
    name: str,
    words: str,
    verb: str,
    expected: dict[str, str],
    person: str,
) -> None:
    url = reverse(name, kwargs=world.arguments(words))

    answer = _answer(client_for(_person(world.cast, person)), verb, url)

    assert answer == expected[person]


@pytest.mark.parametrize(
    ("name", "words", "verb", "expected"), ROWS, ids=[f"{row[0]} {row[1]}" for row in ROWS]
)
def test_running_the_server_opens_its_own_pages_and_nothing_else(
    world: World,
    client_for: Callable[[Person | None], Client],
    name: str,
    words: str,
    verb: str,
    expected: dict[str, str],
) -> None:
    set_operator(person=world.cast.charlie, is_operator=True, by=None)
    url = reverse(name, kwargs=world.arguments(words))

    answer = _answer(client_for(world.cast.charlie), verb, url)

    world.cast.charlie.is_operator = False  # the row is rolled back, and he is asked again in other tests
    assert answer == OPERATOR.get(name, expected["charlie"])


@pytest.mark.parametrize("person", PEOPLE)
def test_refused_pages_refuse_writing_too(
    world: World, client_for: Callable[[Person | None], Client], person: str
) -> None:
    client = client_for(_person(world.cast, person))
    refused = [
        row for row in ROWS if row[3][person] in ("in", "403") and not row[0].startswith(("account", "mfa"))
    ]

    for name, words, _, expected in refused:
        url = reverse(name, kwargs=world.arguments(words))
        assert _answer(client, "POST", url) in (expected[person], "405"), url


SHARED = (
    "apiaries:yard-detail",
    "apiaries:colony-detail",
    "counts:sample-detail",
    "treatments:treatment-detail",
)


def test_coordinator_sees_yards_of_those_who_share(
    world: World, client_for: Callable[[Person | None], Client]
) -> None:
    alice = world.cast.alice
    set_sharing(membership=alice.memberships.get(), shares_counts=True, by=alice)
    client = client_for(world.cast.dana)

    seen = {name: _answer(client, "GET", reverse(name, kwargs=world.arguments(words)))
            for name, words, *_ in ROWS if name in SHARED}  # fmt: skip

    assert seen == dict.fromkeys(SHARED, "200")
    edit = reverse("apiaries:yard-edit", kwargs=world.arguments("yard"))
    assert _answer(client, "GET", edit) == "403"


def test_helper_who_left_the_club_sees_nothing(
    world: World, client_for: Callable[[Person | None], Client]
) -> None:
    bob = world.cast.bob
    client = client_for(bob)
    url = reverse("apiaries:yard-detail", kwargs=world.arguments("yard"))
    assert _answer(client, "GET", url) == "200"

    end_membership(membership=bob.memberships.get(), at=AT, by=world.cast.adam)

    assert _answer(client, "GET", url) == "404"


def test_hidden_and_missing_answer_alike(world: World, client_for: Callable[[Person | None], Client]) -> None:
    client = client_for(world.cast.charlie)
    hidden = client.get(reverse("apiaries:yard-detail", kwargs=world.arguments("yard")))
    missing = client.get(reverse("apiaries:yard-detail", kwargs={"pk": 10**9}))

    assert hidden.status_code == missing.status_code == 404
    assert _without_nonce(hidden.content) == _without_nonce(missing.content)


def _without_nonce(page: bytes) -> bytes:
    import re

    return re.sub(rb'(csrfmiddlewaretoken" value|nonce)="[^"]*"', b"", page)
