"""The second step at sign-in: whose role needs it goes no further without one."""

import re
import time
from collections.abc import Callable
from typing import Any

import pytest
from allauth.account.models import EmailAddress
from allauth.mfa.models import Authenticator
from allauth.mfa.totp.internal.auth import (
    TOTP,
    generate_totp_secret,
    hotp_value,
    yield_hotp_counters_from_time,
)
from django.core import mail
from django.test import Client
from django.urls import reverse

from apiaries.actions import change_role, set_operator
from apiaries.models import Person
from apiaries.permissions import Role
from apiaries.second_step import NEEDED_BY, lacks_second_step
from tests.api_asking import Program
from tests.cast import PASSWORD, Cast

TOTP_PERIOD = 30  # seconds, allauth's default
Opens = Callable[[Person | None], Client]
PAGE = reverse("apiaries:second-step")
SET_UP = reverse("mfa_activate_totp")


@pytest.fixture(autouse=True)
def required(settings: Any) -> None:
    settings.REQUIRE_SECOND_STEP = True


def code_of(secret: str, *, takes: float = 0.5) -> str:
    """What an app with this secret shows; if not for the seconds that it takes to send it, then the next one."""
    left = TOTP_PERIOD - time.time() % TOTP_PERIOD
    if left < takes:
        time.sleep(left)
    value: int = hotp_value(secret, next(yield_hotp_counters_from_time()))
    return f"{value:06}"


def with_app(person: Person) -> str:
    """Set the second step up for somebody; the secret of their app."""
    secret: str = generate_totp_secret()
    TOTP.activate(person, secret)
    return secret


def test_every_role_but_the_members_needs_it(cast: Cast) -> None:
    assert set(Role) - {Role.MEMBER} == NEEDED_BY
    lacks = [person.name for person in Person.objects.order_by("name") if lacks_second_step(person)]

    assert lacks == ["Adam", "Dana", "Ines", "Ivan", "Zoe"]


def test_whoever_runs_the_server_needs_it(cast: Cast) -> None:
    set_operator(person=cast.alice, is_operator=True, by=None)

    assert lacks_second_step(cast.alice)


def test_page_says_why_and_what_to_do(cast: Cast, client_for: Opens) -> None:
    client = client_for(cast.dana)

    assert client.get(reverse("apiaries:member-list"))["Location"] == PAGE
    page = client.get(PAGE).content.decode()
    assert "You are a coordinator of Test club." in page and "What to do" in page
    assert f'href="{SET_UP}"' in page and reverse("account_logout") in page
    assert reverse("apiaries:member-list") not in page and reverse("apiaries:me") + '"' not in page


def test_holds_from_the_moment_the_role_is_given(cast: Cast, client_for: Opens) -> None:
    client = client_for(cast.alice)
    assert client.get(reverse("apiaries:yard-list")).status_code == 200

    change_role(membership=cast.alice.memberships.get(), role=Role.COORDINATOR, by=cast.adam)

    assert client.get(reverse("apiaries:yard-list"))["Location"] == PAGE


def test_set_up_in_the_browser_opens_everything(cast: Cast, client_for: Opens) -> None:
    client = client_for(cast.dana)
    client.post(reverse("account_reauthenticate"), {"password": PASSWORD})
    form = client.get(SET_UP).content.decode()
    secret = re.search(r'value="([A-Z2-7]{16,})"', form)
    assert secret is not None, form

    answer = client.post(SET_UP, {"code": code_of(secret[1])})

    assert answer["Location"] == reverse("mfa_view_recovery_codes")
    assert client.get(answer["Location"]).content.decode().count('class="code"') == 10
    assert client.get(reverse("apiaries:member-list")).status_code == 200
    assert client.get(PAGE)["Location"] == reverse("mfa_index")


def test_recovery_codes_alone_are_no_second_step(cast: Cast) -> None:
    Authenticator.objects.create(user=cast.dana, type=Authenticator.Type.RECOVERY_CODES, data={})

    assert lacks_second_step(cast.dana)


def test_mailed_code_does_not_go_round_it(cast: Cast, client: Client) -> None:
    EmailAddress.objects.create(user=cast.dana, email=cast.dana.email, verified=True, primary=True)
    secret = with_app(cast.dana)
    client.post("/account/login/code/", {"email": cast.dana.email})
    code = re.search(r"^\s*([A-Z0-9]{4,}(?:-[A-Z0-9]+)*)\s*$", str(mail.outbox[0].body), re.MULTILINE)
    assert code is not None

    answer = client.post("/account/login/code/confirm/", {"code": code[1]})
    assert answer["Location"] == reverse("mfa_authenticate")
    assert client.get(reverse("apiaries:member-list"))["Location"].startswith(reverse("account_login"))

    client.post(reverse("mfa_authenticate"), {"code": code_of(secret)})
    assert client.get(reverse("apiaries:member-list")).status_code == 200


def test_programs_are_told(cast: Cast) -> None:
    program = Program(cast.dana)

    answer = program.ask("yards/")

    assert answer.status_code == 403
    assert answer.json()["type"].endswith("#problem-second-step")
    assert "set it up" in answer.json()["detail"]
    with_app(cast.dana)
    assert program.ask("yards/").status_code == 200


def test_programs_of_members_go_on(cast: Cast) -> None:
    assert Program(cast.alice).ask("yards/").status_code == 200


def test_whether_it_is_set_up_comes_along_with_the_session(
    cast: Cast, client_for: Opens, settings: Any, django_assert_num_queries: Any
) -> None:
    with_app(cast.dana)
    client, page = client_for(cast.dana), reverse("apiaries:cautions")
    settings.REQUIRE_SECOND_STEP = False
    with django_assert_num_queries(1):
        client.get(page)
    settings.REQUIRE_SECOND_STEP = True
    with django_assert_num_queries(1):
        client.get(page)
