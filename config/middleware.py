"""What every answer carries, whoever made it."""

import logging
from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.contrib.auth import logout
from django.contrib.auth.middleware import AuthenticationMiddleware
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone, translation

from apiaries.api.problems import in_the_clear, plain_answer
from apiaries.models import Person
from apiaries.second_lock import reader_is
from apiaries.second_step import lacks_second_step
from apiaries.second_step_seeds import UnreadableSeed
from apiaries.sessions import SessionStore
from apiaries.sign_ins import still_holds
from config.refusals import second_step_unreadable, too_large

log = logging.getLogger("recount.second_step")


def every_answer(
    get_response: Callable[[HttpRequest], HttpResponse],
) -> Callable[[HttpRequest], HttpResponse]:
    """Headers that no answer goes without, each unless a view said otherwise (OWASP ASVS 5.0.0, 3.4 and 3.5.8)."""

    def answer(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        for name, value in settings.EVERY_ANSWER.items():
            response.headers.setdefault(name, value)
        return response

    return answer


def bounded(get_response: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    """A body larger than any form takes is not read at all: 413.

    What comes without its length is read as empty (WSGI), so the length that is told is enough to look at.
    """

    def answer(request: HttpRequest) -> HttpResponse:
        try:
            length = int(request.META.get("CONTENT_LENGTH") or 0)
        except ValueError:
            length = 0
        return too_large(request) if length > settings.LARGEST_BODY else get_response(request)

    return answer


def private_pages(
    get_response: Callable[[HttpRequest], HttpResponse],
) -> Callable[[HttpRequest], HttpResponse]:
    """No cache keeps a page, unless its view said otherwise: after signing out nobody leafs back through a yard.

    OWASP ASVS 5.0.0, 14.3.2. Static files answer before this and keep their own rules.
    """

    def answer(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        response.headers.setdefault("Cache-Control", "private, no-store")
        return response

    return answer


class KnowsWhoAsks(AuthenticationMiddleware):
    """As Django's, which asks for the person a moment after the session; here they came along with it."""

    def process_request(self, request: HttpRequest) -> None:
        super().process_request(request)
        if request.session.session_key is None or not isinstance(request.session, SessionStore):
            return
        person = request.session.person(settings.AUTHENTICATION_BACKENDS)
        if person is not None:
            request._cached_user = request.user = person  # type: ignore[attr-defined]  # where Django keeps it


def tells_who_reads(
    get_response: Callable[[HttpRequest], HttpResponse],
) -> Callable[[HttpRequest], HttpResponse]:
    """The database is told who is signed in, and gives out no row of a yard that they may not have."""

    def answer(request: HttpRequest) -> HttpResponse:
        reader_is(request.user.pk)  # None for a stranger
        return get_response(request)

    return answer


def programs_ask_over_tls(
    get_response: Callable[[HttpRequest], HttpResponse],
) -> Callable[[HttpRequest], HttpResponse]:
    """Where pages are led to TLS, programs are refused (OWASP ASVS 5.0.0, 4.1.2). The reference is a page."""

    def answer(request: HttpRequest) -> HttpResponse:
        asked = request.path_info.startswith("/api/") and not request.path_info.startswith("/api/docs/")
        if asked and settings.SECURE_SSL_REDIRECT and not request.is_secure():
            return plain_answer(request, in_the_clear())
        return get_response(request)

    return answer


def over_in_time(
    get_response: Callable[[HttpRequest], HttpResponse],
) -> Callable[[HttpRequest], HttpResponse]:
    """A sign-in that lasted or rested too long is over: whoever comes with it is a stranger (`apiaries.sign_ins`)."""

    def answer(request: HttpRequest) -> HttpResponse:
        if request.user.is_authenticated and not still_holds(request, at=timezone.now()):
            logout(request)
        return get_response(request)

    return answer


def own_language(
    get_response: Callable[[HttpRequest], HttpResponse],
) -> Callable[[HttpRequest], HttpResponse]:
    """Somebody who is signed in reads in the language they chose, whatever this browser would rather have."""

    def answer(request: HttpRequest) -> HttpResponse:
        language = getattr(
            request.user, "language", ""
        )  # nobody is signed in: the browser's, as Django found it
        if language:
            translation.activate(language)
            request.LANGUAGE_CODE = language
        return get_response(request)

    return answer


class SecondStepFirst:
    """Somebody whose role needs a second step and who has none goes to the page that says so, and no further.

    Pages that are open to strangers stay open: signing out would open them too. The interface for programs says it
    itself (`apiaries.api.tokens`).
    """

    STAY_OPEN = frozenset(
        {
            "account_logout",
            "account_reauthenticate",
            "mfa_activate_totp",
            "mfa_index",
            "mfa_reauthenticate",
            "apiaries:cautions",
            "apiaries:help",
            "apiaries:second-step",
        }
    )
    """What it takes to set it up, to read, and to leave."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(self, request: HttpRequest, view: Any, *_: object) -> HttpResponse | None:
        """Before any view, once it is known which; LoginRequiredMiddleware has sent strangers away."""
        if not getattr(view, "login_required", True) or not isinstance(request.user, Person):
            return None
        if not lacks_second_step(request.user):
            return None
        match = request.resolver_match
        if match is None or match.view_name not in self.STAY_OPEN:
            return redirect("apiaries:second-step")
        request.second_step_missing = True  # type: ignore[attr-defined]  # the page leads nowhere else
        return None

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """A second step that cannot be checked is no mistake of whoever typed the code: say whose it is."""
        if not isinstance(exception, UnreadableSeed):
            return None
        log.error("%s", exception)
        return second_step_unreadable(request)
