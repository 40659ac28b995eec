"""The invitation mail: text and HTML alike, and no name can add a heading line."""

import datetime as dt
from typing import Any

from django.conf import settings

from apiaries.actions import invite
from apiaries.mail import invitation_mail
from apiaries.models import Club, Invitation, Person
from apiaries.permissions import Role

AT = dt.datetime(2026, 8, 12, 9, tzinfo=dt.UTC)


def invited(cast: Any) -> Invitation:
    return invite(
        club=cast.club,
        email="new@example.org",
        role=Role.INSPECTOR,
        regions=[cast.north],
        at=AT,
        by=cast.adam,
    )


def test_invitation_mail_says_the_same_twice(cast: Any) -> None:
    invitation = invited(cast)

    message = invitation_mail(invitation)

    html = message.alternatives[0].content
    for words in (
        "Adam invites you to",
        "Test club",
        "as inspector",
        "North",
        f"{settings.SITE_URL}/join/{invitation.token}/",
        "new@example.org",
        "26 Aug 2026",
    ):
        assert words in message.body
        assert words in html
    assert message.to == ["new@example.org"]
    assert message.subject == "Your invitation to Test club"


def test_invitation_mail_takes_no_heading_line_from_a_name(cast: Any) -> None:
    Club.objects.filter(pk=cast.club.pk).update(name="Club\r\nBcc: all@example.org")
    cast.club.refresh_from_db()

    message = invitation_mail(invited(cast))

    assert message.subject == "Your invitation to Club Bcc: all@example.org"
    assert message.message()["Bcc"] is None
    assert message.recipients() == ["new@example.org"]


def test_invitation_mail_sets_names_as_text_not_markup(cast: Any) -> None:
    Person.objects.filter(pk=cast.adam.pk).update(name="<b>Adam & Eve</b>")
    cast.adam.refresh_from_db()

    message = invitation_mail(invited(cast))

    assert "<b>Adam & Eve</b> invites" in message.body
    assert "&lt;b&gt;Adam &amp; Eve&lt;/b&gt; invites" in message.alternatives[0].content
