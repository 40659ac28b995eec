"""Signing in: by password, by mailed code; nobody learns which addresses have an account; guesses are limited."""

import logging
import re
from typing import Any

import pytest
from allauth.account.models import EmailAddress
from django.core import mail
from django.db import connection
from django.test import Client
from django.urls import reverse

from apiaries.actions import end_membership
from apiaries.models import Person
from apiaries.sign_in_log import mark_of
from tests.cast import PASSWORD

LOGIN, CODE, CONFIRM = "/account/login/", "/account/login/code/", "/account/login/code/confirm/"


@pytest.fixture
def alice(cast: Any) -> Person:
    """Alice, whose address is verified as after joining."""
    for person in (cast.alice, cast.ines):
        EmailAddress.objects.get_or_create(
            user=person, email=person.email, defaults={"verified": True, "primary": True}
        )
    person: Person = cast.alice
    return person


def sign_in(client: Client, email: str, password: str = PASSWORD) -> Any:
    return client.post(LOGIN, {"login": email, "password": password})


def signed_in(client: Client) -> bool:
    return "_auth_user_id" in client.session


def test_password_signs_in_and_leads_to_what_is_due(alice: Person, client: Client) -> None:
    assert sign_in(client, "ALICE@example.org")["Location"] == "/"
    assert signed_in(client)


def test_inspector_starts_at_the_yards(alice: Person, client: Client) -> None:
    assert sign_in(client, "ines@example.org")["Location"] == reverse("apiaries:yard-list")


def test_somebody_without_a_club_starts_at_their_account(cast: Any, alice: Person, client: Client) -> None:
    end_membership(membership=alice.membership, at=alice.joined_at, by=cast.adam)

    assert sign_in(client, "alice@example.org")["Location"] == reverse("apiaries:me")


def test_mailed_code_signs_in(alice: Person, client: Client) -> None:
    assert client.post(CODE, {"email": "alice@example.org"})["Location"] == CONFIRM
    message = mail.outbox[0]
    code = re.search(r"^\s*([A-Z0-9]{4,}(?:-[A-Z0-9]+)*)\s*$", str(message.body), re.MULTILINE)
    assert code is not None, message.body

    client.post(CONFIRM, {"code": code[1]})

    assert signed_in(client)
    assert code[1] in message.alternatives[0].content  # the HTML part says the same


def test_wrong_code_does_not_sign_in(alice: Person, client: Client) -> None:
    client.post(CODE, {"email": "alice@example.org"})

    assert client.post(CONFIRM, {"code": "WRONG-CODE"}).status_code == 200
    assert not signed_in(client)


def _bare(response: Any, email: str) -> str:
    """A page without what differs in any two requests, nor the address that was typed."""
    text = re.sub(r'(csrfmiddlewaretoken" value|nonce)="[^"]*"', "", response.content.decode())
    return text.replace(email, "")


def test_wrong_password_and_unknown_address_read_alike(alice: Person) -> None:
    known, unknown = "alice@example.org", "nobody@example.org"

    pages = [_bare(sign_in(Client(), email, "wrong-password"), email) for email in (known, unknown)]

    assert pages[0] == pages[1]
    assert "not correct" in pages[0]


def test_code_for_an_unknown_address_reads_alike(alice: Person) -> None:
    answers = []
    for email in ("alice@example.org", "nobody@example.org"):
        client = Client()
        response = client.post(CODE, {"email": email})
        page = client.get(CONFIRM)
        answers.append((response.status_code, response["Location"], page.status_code, _bare(page, email)))

    assert answers[0] == answers[1]


MAILED = (
    (CODE, "alice@example.org", "Your sign-in code for Recount"),
    (CODE, "nobody@example.org", "No Recount account with this address"),
    ("/account/password/reset/", "alice@example.org", "Set a new password for Recount"),
    ("/account/password/reset/", "nobody@example.org", "No Recount account with this address"),
)


@pytest.mark.parametrize(("page", "email", "subject"), MAILED)
def test_mails_of_signing_in_are_ours(
    alice: Person, client: Client, page: str, email: str, subject: str
) -> None:
    client.post(page, {"email": email})

    message = mail.outbox[0]
    assert message.subject == subject
    assert message.body.startswith("Hello,")
    assert "Do nothing, and nothing changes." in message.alternatives[0].content
    assert "sign up" not in message.body


def test_password_reset_for_an_unknown_address_reads_alike(alice: Person) -> None:
    answers = [
        Client().post("/account/password/reset/", {"email": email})
        for email in ("alice@example.org", "nobody@example.org")
    ]

    assert [answer.status_code for answer in answers] == [302, 302]
    assert answers[0]["Location"] == answers[1]["Location"]


def test_guesses_are_limited_over_all_processes(alice: Person) -> None:
    for _ in range(5):
        sign_in(Client(), "alice@example.org", "wrong-password")

    client = Client()
    assert "Too many failed login attempts" in sign_in(client, "alice@example.org").content.decode()
    assert not signed_in(client)

    # The guesses are counted in the shared table and nowhere else: a count kept by each process would be left.
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM config_cache")
    sign_in(client, "alice@example.org")
    assert signed_in(client)


def test_pages_are_closed_to_strangers(cast: Any, client: Client) -> None:
    response = client.get(reverse("apiaries:yard-list"))

    assert response["Location"] == f"{LOGIN}?next={reverse('apiaries:yard-list')}"


def test_sign_ins_and_refusals_are_logged_without_names(
    alice: Person, client: Client, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.INFO, logger="recount.sign_in")
    sign_in(client, " Alice@example.org", "not her password")
    sign_in(client, "alice@example.org")
    client.post("/account/logout/")

    said = [record.getMessage() for record in caplog.records if record.name == "recount.sign_in"]
    mark = mark_of("alice@example.org")
    assert said == [
        f"A sign-in was refused, mark {mark}.",
        f"Person {alice.pk} signed in, mark {mark}.",
        f"Person {alice.pk} signed out.",
    ]
    assert mark != mark_of("ines@example.org")
