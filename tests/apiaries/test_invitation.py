"""Joining by invitation through the real pages, from the mail's link to the membership."""

import datetime as dt
import threading
from collections.abc import Callable
from typing import Any

import pytest
from allauth.account.models import EmailAddress
from django.core import mail
from django.db import connection
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from apiaries.actions import add_person, invite, withdraw_invitation
from apiaries.mail import invitation_mail
from apiaries.models import Invitation, Membership, Person
from apiaries.permissions import Role

Opens = Callable[[Person | None], Client]
SIGN_UP = "/account/signup/"
TYPED = {"name": "Nia", "email": "new@example.org", "password1": "wax-and-propolis-9"}


@pytest.fixture
def invitation(cast: Any) -> Invitation:
    return invite(club=cast.club, email="new@example.org", role=Role.MEMBER, at=timezone.now(), by=cast.dana)


def link(invitation: Invitation) -> str:
    return reverse("apiaries:invitation-accept", args=[invitation.token])


def come_by(invitation: Invitation) -> Client:
    """A stranger's browser that opened the link and went on to the account page."""
    client = Client()
    assert client.post(link(invitation))["Location"] == SIGN_UP
    return client


def test_join_page_says_which_club_and_role_and_who_invites(invitation: Invitation) -> None:
    page = Client().get(link(invitation)).content.decode()

    for words in (
        "Join Test club",
        "Dana invites you as member",
        "new@example.org",
        "by coordinators only if you say so",
    ):
        assert words in page


def test_stranger_joins_without_a_second_mail(invitation: Invitation) -> None:
    client = come_by(invitation)
    assert 'value="new@example.org"' in client.get(SIGN_UP).content.decode()

    response = client.post(SIGN_UP, TYPED, follow=True)

    nia = Person.objects.get(email="new@example.org")
    assert response.redirect_chain[-1][0] == reverse("apiaries:yard-list")
    assert response.context["user"] == nia
    assert "Welcome to Test club, Nia." in response.content.decode()
    assert (nia.name, nia.membership.role) == ("Nia", Role.MEMBER)
    assert EmailAddress.objects.get(user=nia).verified
    assert mail.outbox == []


def test_used_invitation_is_closed_and_forgotten(invitation: Invitation) -> None:
    client = come_by(invitation)
    client.post(SIGN_UP, TYPED)

    response = Client().get(link(invitation))

    assert response.status_code == 410
    assert "An invitation works once" in response.content.decode()
    assert client.get(link(invitation))["Location"] == reverse("apiaries:yard-list")
    assert "invitation" not in client.session


@pytest.mark.parametrize(
    ("close", "words"), [("withdrawn", "It was withdrawn"), ("expired", "It was good until")]
)
def test_closed_invitation_gets_a_friendly_page(
    cast: Any, invitation: Invitation, close: str, words: str
) -> None:
    client = come_by(invitation)
    if close == "withdrawn":
        withdraw_invitation(invitation=invitation, at=timezone.now(), by=cast.dana)
    else:
        Invitation.objects.filter(pk=invitation.pk).update(
            expires_at=timezone.now() - dt.timedelta(seconds=1)
        )

    assert words in client.get(link(invitation)).content.decode()
    for answer in (client.get(SIGN_UP), client.post(SIGN_UP, TYPED)):
        assert "Joining needs an invitation" in answer.content.decode()
    assert client.post(link(invitation)).status_code == 410
    assert not Person.objects.filter(email="new@example.org").exists()


def test_sign_up_without_an_invitation_is_closed(db: Any) -> None:
    response = Client().post(SIGN_UP, TYPED)

    assert "Joining needs an invitation" in response.content.decode()
    assert not Person.objects.exists()


@pytest.mark.parametrize("word", ["nonsense", "a%00b", "x" * 2000, "%2e%2e"])
def test_unknown_link_is_not_there(db: Any, word: str) -> None:
    assert Client().get(f"/join/{word}/").status_code == 404


def test_other_address_is_refused_and_the_invitation_stays(invitation: Invitation) -> None:
    response = come_by(invitation).post(SIGN_UP, TYPED | {"email": "other@example.org"})

    assert "Use the address your invitation came to" in response.content.decode()
    assert 'value="other@example.org"' in response.content.decode()
    assert not Person.objects.filter(email="other@example.org").exists()
    invitation.refresh_from_db()
    assert invitation.is_open(timezone.now())


def test_address_in_capitals_is_the_same_address(invitation: Invitation) -> None:
    come_by(invitation).post(SIGN_UP, TYPED | {"email": "NEW@Example.ORG"})

    assert Person.objects.get(name="Nia").email == "new@example.org"


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("name", "", "Enter your name"),
        ("password1", "short", "at least 10"),
        ("password1", "password123", "too common"),
    ],
)
def test_sign_up_says_what_to_mend(invitation: Invitation, field: str, typed: str, words: str) -> None:
    response = come_by(invitation).post(SIGN_UP, TYPED | {field: typed})

    assert words in response.content.decode()
    assert not Person.objects.filter(email="new@example.org").exists()


def test_second_browser_with_the_same_link_finds_it_used(invitation: Invitation) -> None:
    first, second = come_by(invitation), come_by(invitation)
    first.post(SIGN_UP, TYPED)

    response = second.post(SIGN_UP, TYPED)

    assert "Joining needs an invitation" in response.content.decode()
    assert Membership.objects.filter(person__email="new@example.org").count() == 1


def test_somebody_with_an_account_signs_in_and_joins(
    cast: Any, invitation: Invitation, client_for: Opens
) -> None:
    nia = add_person(email="new@example.org", name="Nia")
    assert f"/account/login/?next={link(invitation)}" in Client().get(link(invitation)).content.decode()

    client_for(nia).post(link(invitation))

    assert Person.objects.get(pk=nia.pk).membership.club == cast.club


def test_somebody_signed_in_with_another_address_does_not_join(
    invitation: Invitation, client_for: Opens
) -> None:
    client = client_for(add_person(email="other@example.org", name="Odo"))

    page = client.post(link(invitation)).content.decode()

    assert "signed in as other@example.org, but this invitation is for another address" in page
    assert not Membership.objects.filter(person__name="Odo").exists()


def test_member_of_another_club_is_told_so(cast: Any, invitation: Invitation, client_for: Opens) -> None:
    page = client_for(cast.zoe).get(link(invitation)).content.decode()

    assert "You belong to Another club already" in page


def test_invitation_is_sent_and_can_be_withdrawn(cast: Any, client_for: Opens) -> None:
    client = client_for(cast.dana)

    client.post(reverse("apiaries:invitation-add"), {"email": "Late@example.org", "role": "member"})

    invitation = Invitation.objects.get(email="late@example.org")
    assert mail.outbox[0].to == ["late@example.org"]
    assert link(invitation) in mail.outbox[0].body
    assert invitation.token not in client.get(reverse("apiaries:member-list")).content.decode()
    client.post(reverse("apiaries:invitation-withdraw", args=[invitation.pk]))
    assert Client().get(link(invitation)).status_code == 410


def test_open_invitation_is_replaced_only_when_that_is_said(cast: Any, client_for: Opens) -> None:
    client, add = client_for(cast.adam), reverse("apiaries:invitation-add")
    typed = {"email": "Vera@example.org", "role": "inspector", "regions": [cast.north.pk]}
    client.post(add, typed)
    first = Invitation.objects.get(email="vera@example.org")

    again = {"email": "vera@example.org", "role": "member"}
    page = client.post(add, again).content.decode()

    assert "vera@example.org is invited already, as inspector of North, until" in page
    assert 'type="checkbox" name="replaces"' in page
    assert first.is_open(timezone.now()) and len(mail.outbox) == 1

    assert client.post(add, again | {"replaces": "on"}).status_code == 302
    first.refresh_from_db()
    assert first.withdrawn_at is not None
    assert Invitation.objects.get(email="vera@example.org", withdrawn_at=None).role == "member"


def test_tick_for_one_address_is_not_kept_for_the_next(cast: Any, client_for: Opens) -> None:
    typed = {"email": "new@example.org", "role": "", "replaces": "on"}

    page = client_for(cast.adam).post(reverse("apiaries:invitation-add"), typed).content.decode()

    assert 'type="hidden" name="replaces" id' in page  # and holds nothing


def test_existing_member_is_pointed_to_the_change_of_role(cast: Any, client_for: Opens) -> None:
    typed = {"email": "charlie@example.org", "role": "coordinator"}

    page = client_for(cast.adam).post(reverse("apiaries:invitation-add"), typed).content.decode()

    assert "changes their role under Members" in page


def test_open_invitation_is_sent_again_with_the_same_link(
    cast: Any, invitation: Invitation, client_for: Opens
) -> None:
    client, again = client_for(cast.dana), reverse("apiaries:invitation-again", args=[invitation.pk])
    assert again in client.get(reverse("apiaries:member-list")).content.decode()

    client.post(again)

    assert link(invitation) in mail.outbox[0].body
    withdraw_invitation(invitation=invitation, at=timezone.now(), by=cast.dana)
    client.post(again)
    assert len(mail.outbox) == 1


def test_coordinator_cannot_invite_an_administrator_by_hand(cast: Any, client_for: Opens) -> None:
    client_for(cast.dana).post(
        reverse("apiaries:invitation-add"), {"email": "late@example.org", "role": "administrator"}
    )

    assert not Invitation.objects.exists()
    assert mail.outbox == []


def test_mail_that_cannot_be_sent_is_said(cast: Any, client_for: Opens, monkeypatch: Any) -> None:
    def refuse(*_: Any, **__: Any) -> int:
        raise ConnectionRefusedError

    monkeypatch.setattr("django.core.mail.EmailMultiAlternatives.send", refuse)

    response = client_for(cast.dana).post(
        reverse("apiaries:invitation-add"), {"email": "late@example.org", "role": "member"}, follow=True
    )

    assert "The mail to late@example.org could not be sent" in response.content.decode()
    assert Invitation.objects.get().is_open(timezone.now())


@pytest.mark.slow
@pytest.mark.django_db(transaction=True)
def test_two_sends_at_the_same_moment_make_one_member(invitation: Invitation) -> None:
    browsers, answers = [come_by(invitation), come_by(invitation)], []
    together = threading.Barrier(2)

    def send(browser: Client) -> None:
        together.wait()
        answers.append(browser.post(SIGN_UP, TYPED).status_code)
        connection.close()

    threads = [threading.Thread(target=send, args=(browser,)) for browser in browsers]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert len(answers) == 2
    assert all(status < 500 for status in answers)
    assert Membership.objects.filter(person__email="new@example.org").count() == 1


@pytest.mark.parametrize(
    ("role", "named", "address"), [(Role.INSPECTOR, True, False), (Role.MEMBER, False, True)]
)
def test_mail_names_regions_plainly_and_speaks_of_a_first_yard_to_who_may_have_one(
    cast: Any, role: Role, named: bool, address: bool
) -> None:
    regions = [cast.north, cast.south] if named else []
    made = invite(
        club=cast.club, email="vera@example.org", role=role, regions=regions, at=timezone.now(), by=cast.adam
    )

    message = invitation_mail(made)

    for text in (message.body, str(message.alternatives[0][0])):
        assert ("Your regions: North, South" in text) is named
        assert ("You need no address of a yard to begin" in text) is address
        assert "QuerySet" not in text
