"""Guessing is slow however many processes answer, and nobody is locked out by what others do."""

import re
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.parse
import urllib.request
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from allauth.account.models import EmailAddress
from django.core import mail
from django.core.cache import cache
from django.core.exceptions import PermissionDenied
from django.test import Client, RequestFactory
from django.urls import reverse

from apiaries.adapters import ByInvitation
from apiaries.models import Person
from tests.apiaries.test_second_step import with_app
from tests.cast import PASSWORD, Cast
from tests.processes import environment

LOGIN = "/account/login/"
WORKERS, GUESSES, AT_ONCE, MOST = 4, 60, 8, 5
JUDGED, REFUSED, IN = "are not correct", "Too many failed login attempts", "in"
OFTEN = "429"
"""Whatever was typed: thirty sends a minute from one address."""


def verified(*people: Person) -> None:
    for person in people:
        EmailAddress.objects.create(user=person, email=person.email, verified=True, primary=True)


class KeepsRedirects(urllib.request.HTTPRedirectHandler):
    def redirect_request(self, *_: Any) -> None:
        return None


def said(base: str, address: str, email: str, password: str) -> str:
    """What the sign-in page says to one browser at that address."""
    opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(), KeepsRedirects())
    headers = {"X-Forwarded-For": address, "Referer": f"{base}{LOGIN}"}
    page = opener.open(urllib.request.Request(base + LOGIN, headers=headers), timeout=60).read().decode()
    token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page)
    assert token is not None
    typed = {"csrfmiddlewaretoken": token[1], "login": email, "password": password}
    body = urllib.parse.urlencode(typed).encode()
    try:
        answer = opener.open(urllib.request.Request(base + LOGIN, body, headers), timeout=60).read().decode()
    except urllib.error.HTTPError as error:
        return IN if error.code == 302 else str(error.code)
    return next((words for words in (JUDGED, REFUSED) if words in answer), answer)


@pytest.fixture
def site(transactional_db: Any, tmp_path: Path) -> Iterator[str]:
    """The site, answered by four processes behind one proxy."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    words = ("config.wsgi", "--bind", f"127.0.0.1:{port}", "--workers", str(WORKERS), "--preload")
    with (tmp_path / "log").open("w") as log:
        server = subprocess.Popen(
            [sys.executable, "-m", "gunicorn", *words, "--no-control-socket"],
            env=environment(TRUSTED_PROXIES="1", RECOUNT_VAR=str(tmp_path)),
            stdout=log,
            stderr=log,
        )
    try:
        while (tmp_path / "log").read_text().count("Booting worker") < WORKERS:
            assert server.poll() is None, (tmp_path / "log").read_text()
            time.sleep(0.1)
        yield f"http://127.0.0.1:{port}"
    finally:
        server.terminate()
        server.wait(30)


def test_guesses_are_counted_once_over_four_processes(site: str, cast: Cast) -> None:
    verified(cast.alice, cast.bob)
    cache.clear()
    guesses = [f"wrong-password-{number}" for number in range(GUESSES)]
    with ThreadPoolExecutor(AT_ONCE) as threads:
        tally = Counter(
            threads.map(lambda guess: said(site, "198.51.100.1", cast.alice.email, guess), guesses)
        )

    assert set(tally) <= {JUDGED, REFUSED, OFTEN}, tally
    assert 0 < tally[JUDGED] <= MOST
    # The right one is refused where the guesses came from, and lets its person in from elsewhere; so it does others.
    assert said(site, "198.51.100.1", cast.alice.email, PASSWORD) in (REFUSED, OFTEN)
    assert said(site, "198.51.100.2", cast.alice.email, PASSWORD) == IN
    assert said(site, "198.51.100.3", cast.bob.email, PASSWORD) == IN


def _guess(address: str, email: str, password: str = "wrong-password") -> str:
    client = Client(headers={"X-Forwarded-For": address})
    answer = client.post(LOGIN, {"login": email, "password": password})
    if answer.status_code == 302:
        return IN
    return next(words for words in (JUDGED, REFUSED) if words in answer.content.decode())


def test_guesses_from_many_addresses_rest_the_password_but_not_the_mailed_code(
    cast: Cast, settings: Any, client: Client
) -> None:
    settings.ALLAUTH_TRUSTED_PROXY_COUNT = 1
    settings.ACCOUNT_RATE_LIMITS = settings.ACCOUNT_RATE_LIMITS | {"login_failed_from_everywhere": "12/h/key"}
    verified(cast.alice, cast.bob)

    tally = Counter(_guess(f"203.0.113.{number // 4}", cast.alice.email) for number in range(20))

    assert tally == {JUDGED: 12, REFUSED: 8}
    assert _guess("203.0.113.99", cast.alice.email, PASSWORD) == REFUSED
    assert _guess("203.0.113.99", cast.bob.email, PASSWORD) == IN
    client.post("/account/login/code/", {"email": cast.alice.email})
    code = re.search(r"^\s*([A-Z0-9]{4,}(?:-[A-Z0-9]+)*)\s*$", str(mail.outbox[-1].body), re.MULTILINE)
    assert code is not None
    client.post("/account/login/code/confirm/", {"code": code[1]})
    assert "_auth_user_id" in client.session


def test_signing_in_well_counts_as_no_guess(cast: Cast, settings: Any) -> None:
    settings.ALLAUTH_TRUSTED_PROXY_COUNT = 1
    settings.ACCOUNT_RATE_LIMITS = settings.ACCOUNT_RATE_LIMITS | {"login_failed_from_everywhere": "2/h/key"}
    verified(cast.alice)

    assert [_guess(f"203.0.113.{number}", cast.alice.email, PASSWORD) for number in range(4)] == [IN] * 4


def test_codes_of_the_app_are_guessed_five_times_at_most(cast: Cast, client: Client) -> None:
    verified(cast.dana)
    with_app(cast.dana)
    client.post(LOGIN, {"login": cast.dana.email, "password": PASSWORD})
    page = reverse("mfa_authenticate")

    answers = [client.post(page, {"code": f"{number:06}"}).content.decode() for number in range(20)]

    assert sum("Incorrect code" in answer for answer in answers) <= MOST
    assert REFUSED in answers[-1]
    assert "_auth_user_id" not in client.session


FROM = (
    # proxies, X-Forwarded-For, the address that is counted
    (0, "198.51.100.9", "127.0.0.1"),
    (1, "198.51.100.9", "198.51.100.9"),
    (1, "203.0.113.66, 198.51.100.9", "198.51.100.9"),  # what the visitor wrote in front is not believed
    (2, "198.51.100.9, 192.0.2.1", "198.51.100.9"),
    (2, "198.51.100.9", "127.0.0.1"),  # came by one proxy less: not believed, and no error
    (2, None, "127.0.0.1"),
    (5, "a, b, c", "127.0.0.1"),
)


@pytest.mark.parametrize(("proxies", "sent", "counted"), FROM)
def test_address_behind_proxies(settings: Any, proxies: int, sent: str | None, counted: str) -> None:
    settings.ALLAUTH_TRUSTED_PROXY_COUNT = proxies
    request = RequestFactory(headers={} if sent is None else {"X-Forwarded-For": sent}).post(LOGIN)

    assert ByInvitation(request).get_client_ip(request) == counted


def test_no_address_at_all_is_refused_and_no_error(settings: Any) -> None:
    settings.ALLAUTH_TRUSTED_PROXY_COUNT = 2
    request = RequestFactory(REMOTE_ADDR="").post(LOGIN)

    with pytest.raises(PermissionDenied):
        ByInvitation(request).get_client_ip(request)


def test_page_answers_a_request_that_came_by_fewer_proxies(cast: Cast, settings: Any) -> None:
    settings.ALLAUTH_TRUSTED_PROXY_COUNT = 2
    verified(cast.alice)

    assert _guess("198.51.100.9", cast.alice.email) == JUDGED
