"""How allauth signs people up and in here: only by invitation, and mails as text and HTML."""

from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from allauth.core.exceptions import ImmediateHttpResponse
from allauth.core.internal import ratelimit
from allauth.core.internal.httpkit import clean_client_ip
from allauth.core.internal.ratelimit import get_ip
from django.conf import settings
from django.contrib import messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.core.mail import EmailMessage, EmailMultiAlternatives
from django.db import IntegrityError
from django.http import HttpRequest
from django.shortcuts import redirect
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import get_language, override

from apiaries.actions import InvitationClosed, OtherAddress, sign_up
from apiaries.invitations import forget_invitation, kept_invitation
from apiaries.language import say
from apiaries.mail import language_of
from apiaries.models import Person
from apiaries.permissions import Role


class ByInvitation(DefaultAccountAdapter):
    """Sign-up needs an open invitation that the browser came with."""

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        """Only for somebody who opened the link of an invitation that is still open."""
        return kept_invitation(request, at=timezone.now()) is not None

    def clean_email(self, email: str) -> str:
        """Lower case, so that one person is one row."""
        return str(super().clean_email(email)).lower()

    def save_user(self, request: HttpRequest, user: Any, form: Any, commit: bool = True) -> Person:
        """The person and their membership, made in one transaction; sent twice, the second time finds it closed."""
        at = timezone.now()
        invitation = kept_invitation(request, at=at)
        if invitation is None:
            raise ImmediateHttpResponse(redirect("account_signup"))
        try:
            person = sign_up(
                invitation=invitation,
                email=form.cleaned_data["email"],
                name=form.cleaned_data["name"],
                password=form.cleaned_data.get("password1"),
                language=get_language() or settings.LANGUAGE_CODE,
                at=at,
            )
        except (InvitationClosed, OtherAddress, IntegrityError, ValidationError) as error:
            raise ImmediateHttpResponse(
                redirect("apiaries:invitation-accept", token=invitation.token)
            ) from error
        forget_invitation(request)
        welcome = say("Welcome to {club}, {name}.", club=invitation.club.name, name=person.name)
        messages.success(request, welcome)
        return person

    def get_login_redirect_url(self, request: HttpRequest) -> str:
        """Where each role starts: what is due; the yards for an inspector; the own page for who has no club."""
        membership = getattr(request.user, "membership", None)
        if membership is None:
            return reverse("apiaries:me")
        return reverse("apiaries:yard-list") if membership.role == Role.INSPECTOR else "/"

    def get_signup_redirect_url(self, request: HttpRequest) -> str:
        """Somebody new starts with their yards, which are still to be set up."""
        return reverse("apiaries:yard-list")

    def get_client_ip(self, request: HttpRequest) -> str:
        """The visitor's address; the next machine's where a request came by fewer proxies than are trusted.

        The library answers such a request with an error: a monitor beside the site, say, would only see 500.
        """
        hops = request.headers.get("X-Forwarded-For", "").count(",") + 1
        if hops >= settings.ALLAUTH_TRUSTED_PROXY_COUNT:
            return str(super().get_client_ip(request))
        address = clean_client_ip(request.META.get("REMOTE_ADDR", ""))
        if not address:
            raise PermissionDenied
        return str(address)

    def _get_login_attempts_cache_key(self, request: HttpRequest, **credentials: Any) -> str:
        """Wrong passwords count for the account and the address they came from: nobody is locked out by others.

        The library counts for the account alone; five wrong passwords of a stranger would keep its person out.
        """
        return f"{super()._get_login_attempts_cache_key(request, **credentials)}:{get_ip(request)}"

    def pre_authenticate(self, request: HttpRequest, **credentials: Any) -> None:
        """Beside that: so many wrong passwords for one account from all addresses together, against guessing from many.

        Then the password rests for the while, from everywhere; a mailed code still lets the person in.
        """
        super().pre_authenticate(request, **credentials)
        account = super()._get_login_attempts_cache_key(request, **credentials)
        self._from_everywhere = ratelimit.consume(
            request, app="allauth.account", action="login_failed_from_everywhere", key=account
        )
        if not self._from_everywhere:
            raise self.validation_error("too_many_login_attempts")

    def _rollback_login_failed_rl_usage(self) -> None:
        super()._rollback_login_failed_rl_usage()
        if self._from_everywhere:
            self._from_everywhere.rollback()

    def render_mail(
        self, template_prefix: str, email: Any, context: dict[str, Any], headers: dict[str, str] | None = None
    ) -> EmailMessage:
        """In the language of who gets it. Every mail has an HTML part: its own template, or the text set as HTML."""
        with override(language_of(str(email)) or get_language()):
            message = super().render_mail(template_prefix, email, context, headers)
            if isinstance(message, EmailMultiAlternatives) and not message.alternatives:
                page = render_to_string(
                    "apiaries/mail/text.html", {"subject": message.subject, "text": message.body}
                )
                message.attach_alternative(page, "text/html")
        return message
