"""Odd values in every box of every page, as several people: never a 500, and nothing kept without a redirect."""

import random
from collections.abc import Callable
from typing import Any

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse

from apiaries.models import Person
from tests.access.facts import number_of_rows
from tests.access.odd import ODD, boxes_of, spoilt
from tests.access.policy import rows
from tests.access.world import World, make_world
from tests.cast import Cast

SEED, ROUNDS = 20260812, 8
# A way of treating stands in the address of its form.
FORMS = {"treatments:treatment-add": "?way=formic_gel_strip_us"}
PAGES = [row for row in rows() if not row[0].startswith(("account_", "mfa_"))]
STRANGERS = ("account_login", "account_signup", "account_reset_password", "account_request_login_code")


@pytest.fixture
def world(cast: Cast, reference: None) -> World:
    return make_world(cast)


def _post_odd(client: Client, url: str, held: dict[str, list[str]], dice: random.Random) -> int:
    """Post spoilt boxes many times, each undone again; how often it was kept."""
    kept = 0
    before = number_of_rows()
    for _ in range(ROUNDS):
        data = spoilt(held, dice)
        with transaction.atomic():
            response = client.post(url, data)
            after = number_of_rows()
            transaction.set_rollback(True)
        assert response.status_code < 500, (url, data)
        assert after == before or response.status_code == 302, (url, data)
        kept += response.status_code == 302
    return kept


@pytest.mark.parametrize("name", ["alice", "adam"])
def test_odd_values_in_every_form(
    world: World, client_for: Callable[[Person | None], Client], name: str
) -> None:
    client, dice, kept = client_for(getattr(world.cast, name)), random.Random(SEED), 0
    for view, words, verb, expected in PAGES:
        if verb != "GET" or expected[name] != "200":
            continue
        url = reverse(view, kwargs=world.arguments(words)) + FORMS.get(view, "")
        if client.post(url).status_code == 405:
            continue
        kept += _post_odd(client, url, boxes_of(client.get(url).content.decode()), dice)
    assert kept  # some of what is odd is fine, so the forms were really reached


@pytest.mark.parametrize("view", STRANGERS)
def test_odd_values_from_strangers(world: World, view: str, settings: Any) -> None:
    client, dice = Client(), random.Random(SEED)
    settings.ACCOUNT_RATE_LIMITS = False
    if view == "account_signup":
        client.post(reverse("apiaries:invitation-accept", kwargs={"token": world.invitation.token}))
    held = boxes_of(client.get(reverse(view)).content.decode())
    assert held
    _post_odd(client, reverse(view), held, dice)


ASKED = {
    "counts:sample-list": ("yard", "colony", "method", "voided", "from", "to", "page"),
    "treatments:treatment-list": ("yard", "page"),
    "treatments:medicine-record": ("keeper", "year", "yard"),
    "treatments:medicine-record-csv": ("keeper", "year", "yard"),
    "treatments:medicine-record-chain": ("keeper", "year", "yard"),
    "treatments:medicine-record-pdf": ("keeper", "year", "yard", "paper"),
    "reports:region-month": ("kind", "year", "region", "part", "level", "compare", "order", "map"),
    "reports:region-map": ("kind", "year", "region", "part", "map", "theme", "size"),
    "reports:treatment-results": ("season", "region", "ingredient"),
    "reports:region-chart": ("kind", "year", "region", "part", "level", "compare", "theme", "size"),
    "reports:region-published": ("kind", "year"),
    "reports:published-chart": ("kind", "year", "theme", "size"),
}


@pytest.mark.parametrize("page", ASKED)
def test_odd_questions_in_addresses(
    world: World, client_for: Callable[[Person | None], Client], page: str
) -> None:
    client, dice = client_for(world.cast.dana), random.Random(SEED)
    for name in ASKED[page]:
        for odd in ("\0", *dice.sample(ODD, 10)):
            answer = client.get(reverse(page), {name: odd[:2000]})
            assert answer.status_code in (200, 404), (page, name, odd[:50])


def test_odd_way_of_treating(world: World, client_for: Callable[[Person | None], Client]) -> None:
    client = client_for(world.cast.alice)
    url = reverse("treatments:treatment-add", kwargs={"pk": world.cast.alice_yard.pk})
    for odd in ODD:
        assert client.get(url, {"way": odd[:2000]}).status_code == 200, odd[:50]
        if odd and "/" not in odd:
            where = {"pk": world.cast.alice_yard.pk, "way": odd[:200]}
            assert client.get(reverse("treatments:day-plan", kwargs=where)).status_code == 404, odd[:50]


@pytest.mark.parametrize("number", [0, 10**9, 2**31, 2**63, 10**30])
def test_odd_numbers_in_addresses(
    world: World, client_for: Callable[[Person | None], Client], number: int
) -> None:
    client = client_for(world.cast.adam)
    for view, words, _, _ in PAGES:
        right = world.arguments(words)
        arguments = {name: number if isinstance(value, int) else value for name, value in right.items()}
        if arguments != right:
            assert client.get(reverse(view, kwargs=arguments)).status_code in (403, 404, 405), (view, number)
