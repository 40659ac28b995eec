"""Sign-in and account pages wear the frame of the site and speak its words."""

import re

import pytest
from django.test import Client

from apiaries.models import Person

pytestmark = pytest.mark.django_db

FOR_STRANGERS = {
    "/account/login/": "Sign in",
    "/account/login/code/": "Sign in with a mailed code",
    "/account/signup/": "Joining needs an invitation",
    "/account/password/reset/": "Forgotten password",
    "/account/password/reset/done/": "Look in your mail",
    "/account/inactive/": "This account is closed",
}
FOR_MEMBERS = {
    "/account/email/": "E-mail addresses",
    "/account/password/change/": "Change password",
    "/account/2fa/": "Second step at sign-in",
    "/account/logout/": "Sign out",
    "/account/reauthenticate/": "Once more, please",
}


def headings(page: str) -> list[str]:
    return [words.strip() for words in re.findall(r"<h1>(.*?)</h1>", page, re.DOTALL)]


@pytest.mark.parametrize(("path", "heading"), FOR_STRANGERS.items())
def test_a_stranger_meets_our_pages(client: Client, path, heading):
    page = client.get(path).content.decode()
    assert headings(page) == [heading]
    assert "recount.css" in page and " style=" not in page


@pytest.mark.parametrize(("path", "heading"), FOR_MEMBERS.items())
def test_a_member_meets_our_pages(client: Client, path, heading):
    client.force_login(Person.objects.create_user(email="alice@example.org", password="orchard-in-may"))
    page = client.get(path).content.decode()
    assert headings(page) == [heading]
    assert "recount.css" in page and " style=" not in page


def test_a_wrong_sign_in_names_the_problem_in_three_places(client: Client):
    page = client.post("/account/login/", {"login": "not an address", "password": ""}).content.decode()
    assert "<title>Error: Sign in · Recount</title>" in page
    assert "There is a problem" in page
    assert 'id="id_login_error"' in page and 'value="not an address"' in page


def test_a_page_that_is_not_there_says_so(client: Client):
    client.force_login(Person.objects.create_user(email="alice@example.org", password="orchard-in-may"))
    answer = client.get("/no-such-page/")
    assert answer.status_code == 404
    assert headings(answer.content.decode()) == ["This page is not here"]
