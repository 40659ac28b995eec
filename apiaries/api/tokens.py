"""Who asks: a program with a token of its person, or the person's own browser."""

from typing import Any

from django.contrib.auth.models import AnonymousUser
from django.utils import timezone
from rest_framework import authentication, permissions
from rest_framework.exceptions import AuthenticationFailed, Throttled
from rest_framework.request import Request

from apiaries.actions.tokens import note_use
from apiaries.api.problems import Problem
from apiaries.api.throttles import FailedTokens
from apiaries.models import AccessToken, Person
from apiaries.second_lock import reader_is
from apiaries.second_step import lacks_second_step

CHALLENGE = 'Bearer realm="Recount"'


class ByToken(authentication.BaseAuthentication):
    """`Authorization: Bearer rc_…`. A token that is wrong, revoked or over is never helped out by a cookie.

    All dead tokens are refused in the same words: nobody learns that one was ever good.
    """

    def authenticate(self, request: Request) -> tuple[Person, AccessToken] | None:
        """The person and the token; None where none was sent."""
        kind, _, word = request.headers.get("Authorization", "").partition(" ")
        if kind.lower() != "bearer":
            return None
        at = timezone.now()
        token = AccessToken.objects.standing(at).with_word(word.strip())
        if token is None:
            self._refuse(request)
            raise AuthenticationFailed("The token is wrong, revoked or has expired.")
        reader_is(token.person_id)
        note_use(token=token, at=at, by=token.person)
        return token.person, token

    def authenticate_header(self, request: Request) -> str:
        """What a 401 asks for."""
        sent = request.headers.get("Authorization", "").lower().startswith("bearer")
        return f'{CHALLENGE}, error="invalid_token"' if sent else CHALLENGE

    @staticmethod
    def _refuse(request: Request) -> None:
        """Count wrong tokens by address. Right ones from there still work: a club house has one address."""
        failed = FailedTokens()
        if not failed.allow_request(request, None):
            raise Throttled(failed.wait())


class ByBrowser(authentication.SessionAuthentication):
    """The site's own sign-in; what writes carries the token against forgery in `X-CSRFToken`."""

    def enforce_csrf(self, request: Request) -> None:
        # REST framework's request would refuse a form as a kind of body (415) before it is asked whose it is.
        super().enforce_csrf(request._request)


class InScope(permissions.BasePermission):
    """Somebody is signed in, and their token, if it is one, is for this. What they may see is asked later."""

    def has_permission(self, request: Request, view: Any) -> bool:
        """Whether to go on; a token beyond its scopes is told which it lacks (RFC 6750, 3.1, from memory)."""
        if isinstance(request.user, AnonymousUser):
            return False
        if lacks_second_step(request.user):
            raise Problem(
                403,
                "Second step missing",
                "Your role needs a second step at sign-in. Sign in on the site and set it up; then this works again.",
                type="second-step",
            )
        if not isinstance(request.auth, AccessToken):
            return True
        safe = request.method in permissions.SAFE_METHODS
        needed = getattr(view, "reads" if safe else "writes", None)
        if needed is None or needed.value in request.auth.scopes:
            return True
        raise Problem(
            403,
            "Token is not for this",
            f"This token lacks the scope {needed.value}. Make one that has it.",
            type="scope",
            headers={"WWW-Authenticate": f'{CHALLENGE}, error="insufficient_scope", scope="{needed.value}"'},
        )
