"""Refusals, files and redirects carry the headers of a page, say what is wrong, and are never an error of ours."""

from collections.abc import Callable
from typing import Any

import pytest
from django.core.cache import cache
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from apiaries.models import Person
from config import api_docs, offline
from tests.access.headers import check_headers
from tests.access.world import World, make_world
from tests.cast import Cast

Opens = Callable[[Person | None], Client]


@pytest.fixture
def world(cast: Cast, reference: None) -> World:
    return make_world(cast)


def _checked(response: Any, status: int, words: str = "") -> None:
    """The status, the headers, nothing that a cache keeps, and the words where a body has some."""
    place = f"{status} {response.request['PATH_INFO']}"
    assert response.status_code == status, place
    check_headers(response, place)
    assert "no-store" in response.get("Cache-Control", "no-store"), place
    assert words in response.content.decode(), place
    assert "Traceback" not in response.content.decode(), place


def test_refusals_to_people(world: World, client_for: Opens, monkeypatch: pytest.MonkeyPatch) -> None:
    alice, bob, dana = (client_for(getattr(world.cast, name)) for name in ("alice", "bob", "dana"))
    yard = reverse("apiaries:yard-detail", args=[world.cast.alice_yard.pk])
    strict = Client(enforce_csrf_checks=True)

    _checked(Client().get(yard), 302)
    _checked(dana.get(yard), 404, "<h1>")
    _checked(bob.get(reverse("apiaries:yard-edit", args=[world.cast.alice_yard.pk])), 403, "<h1>")
    _checked(strict.post(reverse("account_login"), {}), 403, "This form was open too long")
    _checked(alice.put(reverse("apiaries:yard-list")), 405)
    _checked(alice.post(reverse("reports:calendar-feed", args=[world.calendar_word])), 405)
    _checked(alice.trace(yard), 405)
    _checked(Client().get("/", headers={"host": "elsewhere.example"}), 400)
    _checked(Client().get("/%00"), 404)
    monkeypatch.setattr(offline, "_version", lambda: 1 / 0)
    _checked(
        Client(raise_request_exception=False).get(reverse("service-worker")), 500, "Something broke here"
    )


def test_unknown_hosts_and_plain_http_where_the_site_is_served(settings: Any) -> None:
    settings.SECURE_SSL_REDIRECT = True
    settings.SECURE_HSTS_SECONDS, settings.SECURE_HSTS_INCLUDE_SUBDOMAINS = 31_536_000, True

    _checked(Client().get("/", headers={"host": "elsewhere.example"}), 400)
    _checked(Client().get("/account/login/"), 301)
    answer = Client().get("/account/login/", secure=True)
    _checked(answer, 200)
    assert answer["Strict-Transport-Security"] == "max-age=31536000; includeSubDomains"


@pytest.mark.parametrize("method", ["get", "post"])
@pytest.mark.parametrize("address", ["/api/v1/yards/", "/api/v1/nothing/", "/api/schema/", "/api/"])
def test_a_program_without_tls_is_refused_and_not_sent_on(
    world: World, settings: Any, address: str, method: str
) -> None:
    settings.SECURE_SSL_REDIRECT = True
    bearer = {"authorization": f"Bearer {world.token.prefix}"}

    _checked(getattr(Client(), method)(address, headers=bearer), 403, "/api/docs/#problem-plain-http")

    assert getattr(Client(), method)(address, secure=True).status_code != 403


def test_the_reference_is_a_page_and_redirects_and_without_redirects_programs_may_ask(
    db: None, settings: Any
) -> None:
    settings.SECURE_SSL_REDIRECT = True
    _checked(Client().get("/api/docs/"), 301)
    settings.SECURE_SSL_REDIRECT = False
    _checked(Client().get("/api/v1/yards/"), 401, "/api/docs/#problem-")


def test_refusals_to_programs(world: World, client_for: Opens, monkeypatch: pytest.MonkeyPatch) -> None:
    alice = client_for(world.cast.alice)
    counts = reverse("api:count-list")

    _checked(Client().get(counts), 401, "/api/docs/#problem-")
    _checked(alice.get("/api/v1/nothing/"), 404, "/api/docs/#problem-not-found")
    _checked(alice.get(counts, {"what": "ever"}), 400, "/api/docs/#problem-question")
    _checked(alice.delete(counts), 405, "/api/docs/#problem-")
    _checked(Client().get("/api/v1/", headers={"host": "elsewhere.example"}), 400, "/api/docs/#problem-")
    _checked(
        Client().post(counts, "a=1", content_type="text/plain", CONTENT_LENGTH="99999999"), 413, "#problem-"
    )
    monkeypatch.setattr(api_docs, "as_yaml", lambda: 1 / 0)
    _checked(Client(raise_request_exception=False).get(reverse("api:schema")), 500, "#problem-")


def test_files_and_static_files(world: World, client_for: Opens, settings: Any) -> None:
    settings.WHITENOISE_USE_FINDERS = settings.WHITENOISE_AUTOREFRESH = True
    alice = client_for(world.cast.alice)
    for view in (
        "counts:method-cards-pdf",
        "reports:counts-csv",
        "treatments:medicine-record-pdf",
        "api:schema",
    ):
        answer = alice.get(reverse(view))
        assert answer.status_code == 200, view
        check_headers(answer, view)
    for name in ("recount.css", "favicon.svg", "recount.js"):
        answer = Client().get(f"/static/{name}")
        assert answer.status_code == 200, name
        check_headers(answer, name)
        answer.close()
    _checked(Client().get("/static/"), 404)
    _checked(Client().get("/static/no-such.css"), 404)
    for kept_close in ("/.git/config", "/.env", "/static/../config/settings.py"):
        _checked(Client().get(kept_close), 404)


def test_too_many_tries_are_refused_with_headers(settings: Any, db: None) -> None:
    settings.ACCOUNT_RATE_LIMITS = {"login": "1/m/ip", "login_failed": "1/m/ip"}
    cache.clear()
    answers = [
        Client().post(reverse("account_login"), {"login": "a@example.org", "password": "x"}) for _ in range(2)
    ]

    _checked(answers[1], 429, "Too many tries")


@pytest.mark.parametrize("length", [str(22 * 1024**2), "9" * 18])
def test_a_body_that_no_form_takes_is_not_read(world: World, client_for: Opens, length: str) -> None:
    alice = client_for(world.cast.alice)
    for url in (reverse("counts:import-add"), reverse("account_login"), "/no-such-page/"):
        _checked(
            alice.post(url, "x", content_type="text/plain", CONTENT_LENGTH=length), 413, "too much at once"
        )


@pytest.mark.parametrize("length", ["", "-1", "many", "1e9"])
def test_an_odd_length_is_no_error_of_ours(world: World, client_for: Opens, length: str) -> None:
    alice = client_for(world.cast.alice)

    answer = alice.post(reverse("counts:import-add"), "x", content_type="text/plain", CONTENT_LENGTH=length)

    assert answer.status_code < 500


def test_more_fields_or_words_than_are_read_are_told_so(
    world: World, client_for: Opens, settings: Any
) -> None:
    alice = client_for(world.cast.alice)
    url = reverse("apiaries:yard-edit", args=[world.cast.alice_yard.pk])

    many = {f"field-{number}": "1" for number in range(settings.DATA_UPLOAD_MAX_NUMBER_FIELDS + 1)}
    _checked(alice.post(url, many), 413, "too much at once")
    settings.DATA_UPLOAD_MAX_MEMORY_SIZE = 1000
    _checked(alice.post(url, {"name": "x" * 2000}), 413, "too much at once")
    many_files = {f"file-{number}": SimpleUploadedFile("a.csv", b"a") for number in range(101)}
    _checked(alice.post(reverse("counts:import-add"), many_files), 413, "too much at once")


def test_every_form_with_a_file_takes_less_than_the_largest_body(settings: Any) -> None:
    from counts.forms.phone_file import BYTES_MAX
    from counts.tables.limits import MOST_CSV_BYTES
    from reports.export.bounded import MOST_BYTES

    assert max(BYTES_MAX, MOST_CSV_BYTES, MOST_BYTES) + 512 * 1024 < settings.LARGEST_BODY
