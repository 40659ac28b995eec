"""Without the second step that the role needs: every address, one after the other, written by hand what stays open."""

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from apiaries.actions import set_operator
from apiaries.models import Person
from tests.access.policy import rows
from tests.access.world import World

Opens = Callable[[Person | None], Client]
PAGE = reverse("apiaries:second-step")
STAYS = {
    "apiaries:second-step",
    "apiaries:help",
    "apiaries:cautions",
    "account_logout",
    "account_reauthenticate",
    "mfa_index",
    "mfa_activate_totp",
    "mfa_reauthenticate",
}
"""Beside what a stranger may open too."""
OF_SIGNING_IN = {"account_email_verification_sent", "account_confirm_login_code", "mfa_authenticate"}
"""The library's steps on the way in: open to strangers, and they lead back to the sign-in page or on to the site."""


@pytest.fixture
def world(made: World, db: Any, settings: Any) -> World:
    settings.REQUIRE_SECOND_STEP = True
    return made


def _closed() -> list[tuple[str, str, str]]:
    return [
        (name, words, verb)
        for name, words, verb, expected in rows()
        if expected["stranger"] == "in" and name not in STAYS | OF_SIGNING_IN
    ]


@pytest.mark.parametrize("who", ["dana", "ines", "adam"])
def test_nothing_else_opens(world: World, client_for: Opens, who: str) -> None:
    client = client_for(getattr(world.cast, who))

    for name, words, verb in _closed():
        url = reverse(name, kwargs=world.arguments(words))
        answer = client.post(url) if verb == "POST" else client.get(url)
        assert (answer.status_code, answer.get("Location")) == (302, PAGE), url


def test_nothing_else_opens_to_who_runs_the_server(world: World, client_for: Opens) -> None:
    set_operator(person=world.cast.charlie, is_operator=True, by=None)
    client = client_for(world.cast.charlie)

    opened = [name for name, words, _ in _closed() if _get(client, world, name, words)["Location"] != PAGE]

    world.cast.charlie.is_operator = False  # the row is rolled back, and he is asked again in other tests
    assert opened == []


def _get(client: Client, world: World, name: str, words: str) -> Any:
    return client.get(reverse(name, kwargs=world.arguments(words)))


@pytest.mark.parametrize("who", ["dana", "ines", "adam"])
def test_what_it_takes_stays_open(world: World, client_for: Opens, who: str) -> None:
    client = client_for(getattr(world.cast, who))

    for name in STAYS:
        answer = client.get(reverse(name))
        assert answer.get("Location") != PAGE and answer.status_code in (200, 302), name
        if answer.status_code == 302:
            assert answer["Location"].startswith("/account/"), name


def test_programs_are_refused_at_every_address(world: World, client_for: Opens) -> None:
    names = [
        (name, words)
        for name, words, verb, expected in rows()
        if name.startswith("api:") and expected["stranger"] == "401" and verb == "GET"
    ]
    client = client_for(world.cast.dana)

    said = {(name, _get(client, world, name, words).status_code) for name, words in names}

    assert len(names) > 5
    assert {status for _, status in said} == {403}, said


def test_members_notice_nothing(world: World, client_for: Opens) -> None:
    client = client_for(world.cast.alice)

    for name in ("apiaries:yard-list", "reports:today", "apiaries:me", "mfa_index"):
        assert client.get(reverse(name)).status_code == 200, name
