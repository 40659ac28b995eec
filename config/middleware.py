"""What every answer carries, whoever made it."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.utils import translation


def private_pages(
    get_response: Callable[[HttpRequest], HttpResponse],
) -> Callable[[HttpRequest], HttpResponse]:
    """No cache keeps a page, unless its view said otherwise: after signing out nobody leafs back through a yard.

    OWASP ASVS 5.0, 14.3.2 (from memory). Static files answer before this and keep their own rules.
    """

    def answer(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        response.headers.setdefault("Cache-Control", "private, no-store")
        return response

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
