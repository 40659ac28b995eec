"""Which language somebody reads: chosen on a page, kept with the person or in the browser, and in mails their own."""

import re
from collections.abc import Callable
from typing import Any

import pytest
from allauth.account.models import EmailAddress
from django.conf import settings
from django.core import mail
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import get_language

from apiaries.actions import choose_language, invite
from apiaries.mail import invitation_mail
from apiaries.models import Invitation, Person
from apiaries.permissions import Role

Opens = Callable[[Person | None], Client]
CHOOSE, ME, YARDS = "/language/", "/me/", "/yards/"
SIGN_IN = "/account/login/"


def in_german(person: Person) -> Person:
    choose_language(person=person, language="de", by=person)
    return person


def lang(response: Any) -> str:
    """The language a page says it is in."""
    found = re.search(r'<html[^>]* lang="([^"]+)"', response.content.decode())
    assert found
    return found[1]


# Choosing


def test_language_chosen_on_the_page_is_kept_with_the_person(cast: Any, client_for: Opens) -> None:
    alice = client_for(cast.alice)
    assert lang(alice.get(YARDS)) == "en-gb"

    answer = alice.post(CHOOSE, {"language": "de", "next": YARDS})

    assert answer["Location"] == YARDS
    cast.alice.refresh_from_db()
    assert cast.alice.language == "de"
    page = client_for(cast.alice).get(YARDS)  # another browser of hers
    assert lang(page) == "de"
    assert "<h1>Stände</h1>" in page.content.decode()


def test_language_chosen_while_signed_out_is_kept_in_the_browser(db: None) -> None:
    browser = Client()

    browser.post(CHOOSE, {"language": "de", "next": SIGN_IN})

    assert browser.cookies[settings.LANGUAGE_COOKIE_NAME].value == "de"
    assert lang(browser.get(SIGN_IN)) == "de"
    assert lang(Client().get(SIGN_IN)) == "en-gb"


def test_a_browser_that_asks_for_german_gets_it_until_somebody_signs_in(cast: Any) -> None:
    browser = Client(headers={"accept-language": "de-AT,de;q=0.9,en;q=0.5"})
    assert lang(browser.get(SIGN_IN)) == "de"

    browser.force_login(cast.alice, backend=settings.AUTHENTICATION_BACKENDS[0])

    assert lang(browser.get(YARDS)) == "en-gb"


def test_somebodys_language_beats_the_browsers_cookie(cast: Any, client_for: Opens) -> None:
    alice = client_for(in_german(cast.alice))
    alice.cookies[settings.LANGUAGE_COOKIE_NAME] = "en-gb"

    assert lang(alice.get(YARDS)) == "de"


@pytest.mark.parametrize("wanted", ["fr", "", "de-CH", "../de"])
def test_a_language_that_is_not_offered_changes_nothing(cast: Any, client_for: Opens, wanted: str) -> None:
    alice = client_for(in_german(cast.alice))

    alice.post(CHOOSE, {"language": wanted, "next": YARDS})

    cast.alice.refresh_from_db()
    assert cast.alice.language == "de"
    assert lang(alice.get(YARDS)) == "de"


def test_choosing_a_language_leads_to_no_other_site(db: None) -> None:
    answer = Client().post(CHOOSE, {"language": "de", "next": "https://elsewhere.example/"})

    assert answer["Location"] == "/"


def test_language_changed_on_the_account_page_is_that_of_its_answer(cast: Any, client_for: Opens) -> None:
    alice = client_for(cast.alice)
    typed = {
        "name": "Alice",
        "language": "de",
        "time_zone": "Europe/Berlin",
        "mail_at": "07:00",
        "wants_mail": "on",
    }

    page = alice.post(ME, typed, follow=True)

    assert lang(page) == "de"
    assert "Gespeichert." in page.content.decode()


def test_one_reader_leaves_no_language_behind_for_the_next(cast: Any, client_for: Opens) -> None:
    client_for(in_german(cast.alice)).get(YARDS)

    assert lang(client_for(cast.bob).get(YARDS)) == "en-gb"


# Joining and mails


@pytest.fixture
def invitation(cast: Any) -> Invitation:
    return invite(club=cast.club, email="new@example.org", role=Role.MEMBER, at=timezone.now(), by=cast.dana)


def test_whoever_signs_up_keeps_the_language_of_the_page(invitation: Invitation) -> None:
    browser = Client(headers={"accept-language": "de"})
    browser.post(reverse("apiaries:invitation-accept", args=[invitation.token]))

    page = browser.post(
        "/account/signup/",
        {"name": "Nia", "email": "new@example.org", "password1": "wax-and-propolis-9"},
        follow=True,
    )

    assert Person.objects.get(email="new@example.org").language == "de"
    assert "Willkommen bei Test club, Nia." in page.content.decode()


def test_a_stranger_is_invited_in_the_language_of_who_invites(cast: Any, invitation: Invitation) -> None:
    invitation.invited_by = in_german(cast.dana)

    message = invitation_mail(invitation)

    assert message.subject == "Ihre Einladung zu Test club"
    assert "Dana lädt Sie zu Test club auf Recount ein (Rolle: Mitglied)." in message.body
    html = message.alternatives[0].content
    assert '<html lang="de">' in html
    assert "Hält Stände, trägt Zählungen und Behandlungen ein" in html
    assert get_language() == "en-gb"  # what was spoken before is spoken on


def test_whoever_has_an_account_is_invited_in_their_own_language(cast: Any, invitation: Invitation) -> None:
    Person.objects.create_user("new@example.org", name="Nia")
    invitation.invited_by = in_german(cast.dana)

    message = invitation_mail(invitation)

    assert message.subject == "Your invitation to Test club"
    assert '<html lang="en-gb">' in message.alternatives[0].content


@pytest.mark.parametrize(
    ("reads", "browser", "subject"),
    [("de", "en", "Ihr Anmeldecode für Recount"), ("en-gb", "de", "Your sign-in code for Recount")],
)
def test_a_sign_in_code_comes_in_the_language_of_who_gets_it(
    cast: Any, reads: str, browser: str, subject: str
) -> None:
    choose_language(person=cast.alice, language=reads, by=cast.alice)
    EmailAddress.objects.get_or_create(
        user=cast.alice, email=cast.alice.email, defaults={"verified": True, "primary": True}
    )

    Client(headers={"accept-language": browser}).post("/account/login/code/", {"email": cast.alice.email})

    (message,) = mail.outbox
    assert subject in message.subject
    assert (message.subject == "Your sign-in code for Recount") is (reads == "en-gb")
    assert f'<html lang="{reads}">' in message.alternatives[0].content
