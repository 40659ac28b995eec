"""Invitations: sending, withdrawing, accepting."""

import logging
from smtplib import SMTPException

from allauth.account.adapter import get_adapter
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from apiaries.access import club_for, invitation_for, invitation_with, membership_of
from apiaries.actions import AlreadyMember, InvitationClosed, accept_invitation, invite, withdraw_invitation
from apiaries.forms import InvitationForm, posted
from apiaries.invitations import keep_invitation
from apiaries.language import say
from apiaries.mail import invitation_mail
from apiaries.models import Invitation, Person
from apiaries.permissions import ROLE_WORDS, Permission, Role
from apiaries.views.asking import limited, person_of

logger = logging.getLogger(__name__)


@limited("invite")
def invitation_add(request: HttpRequest) -> HttpResponse:
    """Invite somebody by e-mail."""
    person = person_of(request)
    club = club_for(person, Permission.MEMBER_INVITE)
    form = InvitationForm(posted(request), membership=membership_of(person))
    if form.is_valid() and form.saves(lambda: _invite(form, request)):
        return redirect("apiaries:member-list")
    return render(request, "apiaries/invitation_add.html", {"form": form, "club": club})


def _invite(form: InvitationForm, request: HttpRequest) -> None:
    person, typed = person_of(request), form.cleaned_data
    invitation = invite(
        club=membership_of(person).club,
        email=typed["email"],
        role=Role(typed["role"]),
        regions=typed["regions"],
        at=timezone.now(),
        by=person,
    )
    # The action has committed: a mail never announces an invitation that is not kept.
    _send(invitation, request)


def _send(invitation: Invitation, request: HttpRequest) -> None:
    try:
        invitation_mail(invitation).send()
    except (SMTPException, OSError):
        logger.exception("The mail of invitation %s was not sent", invitation.pk)
        messages.error(
            request,
            say(
                "The mail to {email} could not be sent. Try later under Members, with “Send again”.",
                email=invitation.email,
            ),
        )
    else:
        messages.success(request, say("The invitation to {email} is on its way.", email=invitation.email))


@require_POST
@limited("invite")
def invitation_again(request: HttpRequest, pk: int) -> HttpResponse:
    """The same mail with the same link, for somebody whom the first did not reach."""
    invitation = invitation_for(person_of(request), pk)
    if invitation.is_open(timezone.now()):
        _send(invitation, request)
    else:
        messages.warning(request, say("The invitation to {email} is no longer open.", email=invitation.email))
    return redirect("apiaries:member-list")


@require_POST
def invitation_withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """The link in the mail stops working."""
    person = person_of(request)
    invitation = invitation_for(person, pk)
    withdrawn = withdraw_invitation(invitation=invitation, at=timezone.now(), by=person)
    if withdrawn.accepted_at is None:
        messages.success(request, say("The invitation to {email} is withdrawn.", email=invitation.email))
    else:
        messages.warning(request, say("{email} has joined already.", email=invitation.email))
    return redirect("apiaries:member-list")


@login_not_required
@never_cache
def invitation_accept(request: HttpRequest, token: str) -> HttpResponse:
    """Which club and role, who invited; a stranger goes on to sign up, somebody signed in joins at once."""
    invitation = invitation_with(token)
    person = request.user if isinstance(request.user, Person) else None
    if person is not None and invitation.accepted_by_id == person.pk:
        return redirect("apiaries:yard-list")
    if not invitation.is_open(timezone.now()):
        return render(request, "apiaries/invitation_closed.html", {"invitation": invitation}, status=410)
    if request.method == "POST" and person is None:
        keep_invitation(request, invitation)
        # The link came to this address by mail, so whoever has it reads that mailbox.
        get_adapter(request).stash_verified_email(request, invitation.email)
        return redirect("account_signup")
    if request.method == "POST" and person is not None and _joined(request, invitation, person):
        return redirect("apiaries:yard-list")
    context = {
        "invitation": invitation,
        "role_words": say(ROLE_WORDS[Role(invitation.role)]),
        "other_address": person is not None and person.email != invitation.email,
        "own_club": person.membership.club if person is not None and person.membership else None,
        "has_account": person is None and Person.objects.filter(email=invitation.email).exists(),
    }
    return render(request, "apiaries/invitation_accept.html", context)


def _joined(request: HttpRequest, invitation: Invitation, person: Person) -> bool:
    """Let somebody who has an account join, if the invitation was sent to them."""
    if person.email != invitation.email:
        return False
    try:
        accept_invitation(invitation=invitation, at=timezone.now(), by=person)
    except (AlreadyMember, InvitationClosed) as error:
        messages.error(request, str(error))
        return False
    messages.success(request, say("Welcome to {club}, {name}.", club=invitation.club.name, name=person.name))
    return True
