"""A forgotten password: its link is short-lived, works once, and goes round no second step."""

import re
from typing import Any

from allauth.account import app_settings
from allauth.account.models import EmailAddress
from django.conf import settings
from django.core import mail
from django.test import Client
from django.urls import reverse

from apiaries.models import Person
from tests.apiaries.test_second_step import with_app
from tests.cast import Cast

NEW = "three wet bees in a jar"


def _link(client: Client, person: Person) -> str:
    EmailAddress.objects.get_or_create(user=person, email=person.email, verified=True, primary=True)
    client.post(reverse("account_reset_password"), {"email": person.email})
    found = re.search(r"https?://[^/\s]+(/account/password/reset/key/\S+)", str(mail.outbox[-1].body))
    assert found is not None
    return found[1]


def _set_new(client: Client, link: str) -> Any:
    page = client.get(link, follow=True)
    return client.post(page.request["PATH_INFO"], {"password1": NEW, "password2": NEW})


def test_mailed_secrets_are_short_lived() -> None:
    assert settings.PASSWORD_RESET_TIMEOUT <= 3600  # a link of 32 letters and more
    assert app_settings.LOGIN_BY_CODE_TIMEOUT <= 600
    assert app_settings.EMAIL_VERIFICATION_BY_CODE_TIMEOUT <= 600


def test_a_link_sets_a_password_once(cast: Cast, client: Client) -> None:
    link = _link(client, cast.alice)

    assert _set_new(client, link).status_code == 302
    cast.alice.refresh_from_db()
    assert cast.alice.check_password(NEW)
    again = Client().get(link, follow=True)
    assert "password1" not in again.content.decode()


def test_a_reset_does_not_go_round_the_second_step(cast: Cast, client: Client) -> None:
    with_app(cast.dana)
    other = Client()
    other.force_login(cast.dana, backend=settings.AUTHENTICATION_BACKENDS[0])

    assert _set_new(client, _link(client, cast.dana)).status_code == 302
    assert client.get(reverse("apiaries:member-list"))["Location"].startswith(reverse("account_login"))
    answer = client.post(reverse("account_login"), {"login": cast.dana.email, "password": NEW})
    assert answer["Location"] == reverse("mfa_authenticate")
    assert client.get(reverse("apiaries:member-list"))["Location"].startswith(reverse("account_login"))
    # Whoever was signed in with the old password no longer is.
    assert other.get(reverse("apiaries:me"))["Location"].startswith(reverse("account_login"))
