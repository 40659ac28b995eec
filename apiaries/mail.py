"""Mails of this app, each as text and HTML from three templates."""

from typing import Any

from django.conf import settings
from django.core.mail import EmailMultiAlternatives
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.translation import override

from apiaries.api.scopes import scope_words
from apiaries.language import say
from apiaries.models import AccessToken, How, Invitation, Leaving, Membership, Person
from apiaries.permissions import ROLE_WORDS, Permission, Role, has_permission
from apiaries.zones import zone_of


def one_line(text: str) -> str:
    """Text for the heading of a mail: nobody's name may start a new heading line."""
    return " ".join(text.split())


def invitation_mail(invitation: Invitation) -> EmailMultiAlternatives:
    """The mail with the link to join; the caller sends it once the invitation is kept.

    Whoever has no account yet is written to in the language of who invites.
    """
    with override(language_of(invitation.email) or invitation.invited_by.language):
        return compose(
            "apiaries/mail/invitation",
            to=invitation.email,
            context={
                "invitation": invitation,
                # Names, not rows: a mail is not escaped, and there the template would print the query itself.
                "regions": [region.name for region in invitation.regions.all()],
                "may_set_up": has_permission(invitation.role, Permission.YARD_CREATE),
                "role_words": say(ROLE_WORDS[Role(invitation.role)]),
                "link": settings.SITE_URL + reverse("apiaries:invitation-accept", args=[invitation.token]),
            },
        )


def role_mail(membership: Membership, *, by: Person, before: str) -> EmailMultiAlternatives:
    """Tell somebody that their role, or an inspector's regions, were changed; `before` is the role they had."""
    with override(membership.person.language):
        return compose(
            "apiaries/mail/role",
            to=membership.person.email,
            context={
                "membership": membership,
                "by": by,
                "same_role": membership.role == before,
                "regions": [region.name for region in membership.regions.all()],
                "role_words": say(ROLE_WORDS[Role(membership.role)]),
                "link": settings.SITE_URL + reverse("apiaries:who-sees-what"),
            },
        )


def signed_out_mail(member: Membership, *, by: Person) -> EmailMultiAlternatives:
    """Tell somebody that an administrator signed them out everywhere."""
    with override(member.person.language):
        return compose(
            "apiaries/mail/signed_out",
            to=member.person.email,
            context={"member": member, "by": by, "link": settings.SITE_URL + reverse("account_login")},
        )


def token_mail(token: AccessToken) -> EmailMultiAlternatives:
    """Tell somebody that a token was made in their name; the token itself is in no mail."""
    with override(token.person.language):
        return compose(
            "apiaries/mail/token",
            to=token.person.email,
            context={
                "token": token,
                "may": [scope_words(scope) for scope in token.scopes],
                "link": settings.SITE_URL + reverse("apiaries:token-list"),
            },
        )


def leaving_mail(leaving: Leaving) -> EmailMultiAlternatives:
    """Tell somebody that they will be forgotten, when, and how to call it off."""
    person = leaving.person
    with override(person.language):
        return compose(
            "apiaries/mail/leaving",
            to=person.email,
            context={
                "person": person,
                "due": leaving.due_at.astimezone(zone_of(person.time_zone)),
                "own": leaving.how == How.OWN,
                "by": leaving.asked_by,
                "link": settings.SITE_URL + reverse("apiaries:leave"),
            },
        )


def language_of(address: str) -> str | None:
    """The language of who signs in with this address; None for a stranger."""
    found = Person.objects.filter(email=address.lower()).values_list("language", flat=True).first()
    return str(found) if found else None


def compose(prefix: str, *, to: str, context: dict[str, Any]) -> EmailMultiAlternatives:
    """A mail from `<prefix>_subject.txt`, `<prefix>.txt` and `<prefix>.html`."""
    message = EmailMultiAlternatives(
        subject=one_line(render_to_string(f"{prefix}_subject.txt", context)),
        body=render_to_string(f"{prefix}.txt", context),
        to=[to],
        headers={"Auto-Submitted": "auto-generated"},
    )
    message.attach_alternative(render_to_string(f"{prefix}.html", context), "text/html")
    return message
