"""Refusals that no view makes: a page for a person, a problem for a program."""

from django.core.exceptions import RequestDataTooBig, TooManyFieldsSent, TooManyFilesSent
from django.http import HttpRequest, HttpResponse
from django.template import loader
from django.views.defaults import bad_request as bad_request_page
from django.views.defaults import server_error as server_error_page

from apiaries.api import problems


def _for_program(request: HttpRequest) -> bool:
    return request.path_info.startswith("/api/")


def server_error(request: HttpRequest) -> HttpResponse:
    """500."""
    if _for_program(request):
        return problems.plain_answer(request, problems.server_error())
    return server_error_page(request)


def too_large(request: HttpRequest) -> HttpResponse:
    """413: more than is read at once."""
    if _for_program(request):
        return problems.plain_answer(request, problems.too_large())
    return HttpResponse(loader.get_template("413.html").render(), status=413)


def second_step_unreadable(request: HttpRequest) -> HttpResponse:
    """503: the key that it takes to check somebody's second step is not on this host."""
    return HttpResponse(loader.get_template("503.html").render(), status=503)


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """400, or 413 where there was only too much of it."""
    if isinstance(exception, RequestDataTooBig | TooManyFieldsSent | TooManyFilesSent):
        return too_large(request)
    if _for_program(request):
        return problems.plain_answer(request, problems.unreadable())
    return bad_request_page(request, exception)
