"""Headers of every page, whoever asks: what a browser may run, frame, keep and tell.

Sources: W3C Content Security Policy Level 3, RFC 9111 (caching), Fetch (nosniff), from memory; OWASP ASVS 5.0.0,
3.4 and 14.3 (docs/reference/asvs.md). Refusals and files: test_refusals.py.
"""

from collections.abc import Callable
from typing import Any

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import reverse

from apiaries.models import Person
from tests.access.headers import check_headers
from tests.access.policy import rows
from tests.access.world import World, make_world
from tests.cast import Cast

Opens = Callable[[Person | None], Client]
MISSING = "/no-such-page/"


@pytest.fixture
def world(cast: Cast, reference: None) -> World:
    return make_world(cast)


@pytest.mark.parametrize("name", ["stranger", "alice", "adam"])
def test_headers_of_every_address(world: World, client_for: Opens, name: str) -> None:
    client = client_for(None if name == "stranger" else getattr(world.cast, name))
    urls = [reverse(view, kwargs=world.arguments(words)) for view, words, *_ in rows()]
    for url in [*urls, MISSING]:
        check_headers(client.get(url), url)


@pytest.mark.parametrize("name", ["stranger", "alice", "dana", "ines", "adam"])
def test_no_shared_cache_keeps_a_page(world: World, client_for: Opens, name: str) -> None:
    client = client_for(None if name == "stranger" else getattr(world.cast, name))
    urls = [reverse(view, kwargs=world.arguments(words)) for view, words, *_ in rows()]
    for url in [*urls, MISSING]:
        kept = client.get(url)["Cache-Control"].replace(" ", "").split(",")

        assert "private" in kept, url
        # The chart alone may be kept, a minute, by the browser that asked; feeds and programs' answers if they ask
        # each time.
        feed = reverse("reports:calendar-feed", kwargs={"token": world.calendar_word})
        asks = url == feed or url.startswith("/api/v1/")
        assert "no-store" in kept or url == reverse("reports:region-chart") or asks and "no-cache" in kept, (
            url
        )


def test_links_with_words_in_them_tell_no_other_site(world: World) -> None:
    for url in (
        reverse("apiaries:invitation-accept", kwargs={"token": world.invitation.token}),
        reverse("reports:mail-stop", kwargs={"token": "nonsense"}),
        reverse("reports:calendar-feed", kwargs={"token": world.calendar_word}),
        reverse("reports:recount-entry", kwargs={"token": "nonsense"}),
        reverse("account_reset_password_from_key", kwargs={"uidb36": "1", "key": "set-password"}),
    ):
        assert Client().get(url)["Referrer-Policy"] in ("same-origin", "no-referrer")


def test_every_writing_form_wants_its_token(world: World) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(world.cast.alice, backend="allauth.account.auth_backends.AuthenticationBackend")
    for view, words, _, expected in rows():
        url = reverse(view, kwargs=world.arguments(words))
        # Stopping mails is posted by mail programs, which have no cookie (RFC 8058).
        # What is no address of the interface writes nothing, and tells a program so in its own way.
        if view not in ("reports:mail-stop", "api:elsewhere"):
            assert client.post(url).status_code in (403, 405), (url, expected["alice"])


@pytest.mark.parametrize(
    "away", ["https://evil.example/", "//evil.example", "/\\evil.example", "javascript:x"]
)
def test_signing_in_leads_nowhere_else(world: World, away: str) -> None:
    from tests.cast import PASSWORD

    response = Client().post(
        reverse("account_login"), {"login": "alice@example.org", "password": PASSWORD, "next": away}
    )

    assert response.status_code == 302
    assert response["Location"].startswith("/")
    assert not response["Location"].startswith(("//", "/\\"))


@pytest.mark.parametrize(
    ("view", "words", "typed"),
    [
        ("apiaries:invitation-add", "", {"email": "somebody@example.org", "role": "member"}),
        ("apiaries:helper-list", "yard", {"email": "somebody@example.org"}),
    ],
)
def test_asking_for_addresses_is_limited(
    world: World, client_for: Opens, settings: Any, view: str, words: str, typed: dict[str, str]
) -> None:
    settings.ACCOUNT_RATE_LIMITS = {"invite": "2/h/user", "add_helper": "2/h/user"}
    cache.clear()
    client = client_for(world.cast.adam if view == "apiaries:invitation-add" else world.cast.alice)
    url = reverse(view, kwargs=world.arguments(words))

    answers = [client.post(url, typed).status_code for _ in range(3)]

    assert answers[2] == 429
    assert 429 not in answers[:2]
    assert client.get(url).status_code == 200
