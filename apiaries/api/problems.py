"""Every refusal of the interface as one shape: `application/problem+json` (RFC 9457, from memory).

`type` is an address relative to the site at which the reference says what it means. Nothing in a problem depends on
what the asker may not see: the 404 of a hidden thing and of one that never was are the same bytes.
"""

from collections.abc import Iterator, Mapping, Sequence
from http import HTTPStatus
from itertools import islice
from typing import Any, TypedDict

from django.core.exceptions import PermissionDenied, RequestDataTooBig, ValidationError
from django.http import Http404, HttpRequest, JsonResponse
from rest_framework import exceptions
from rest_framework.response import Response
from rest_framework.settings import api_settings

MEDIA_TYPE = "application/problem+json"
ABOUT = "/api/docs/#problem-"
GENERAL = "general"
"""The `name` of a fault that belongs to no single field."""
FAULTS_MOST = 50
"""So many are listed; a small body must not be answered with a large one."""


class Fault(TypedDict):
    """What is wrong with one field: its name, with dots and places for nested ones, and a sentence."""

    name: str
    detail: str


class Problem(exceptions.APIException):
    """A refusal with a status; `type` is the last word of its address, `fields` what is wrong where."""

    def __init__(
        self,
        status: int,
        title: str,
        detail: str,
        *,
        type: str = "",
        fields: Sequence[Fault] | None = None,
        headers: Mapping[str, str] | None = None,
        more: Mapping[str, Any] | None = None,
    ) -> None:
        """`more`: members of this kind of problem alone."""
        self.status_code = status
        self.title, self.type, self.fields = title, type or _word(status), fields
        self.extra, self.more = dict(headers or {}), dict(more or {})
        super().__init__(detail)


def handler(error: Exception, context: dict[str, Any]) -> Response | None:
    """The answer to an error raised by a view of the interface; None for what nobody foresaw: that is a 500."""
    problem = _as_problem(error)
    if problem is None:
        return None
    headers = problem.extra
    if challenge := getattr(error, "auth_header", None):
        headers = {"WWW-Authenticate": challenge} | headers
    return Response(
        body_of(problem), status=problem.status_code, headers=headers or None, content_type=MEDIA_TYPE
    )


def body_of(problem: Problem) -> dict[str, Any]:
    """The members of the problem, in a fixed order."""
    body: dict[str, Any] = {
        "type": f"{ABOUT}{problem.type}",
        "title": problem.title,
        "status": problem.status_code,
        "detail": str(problem.detail),
    }
    return body | problem.more | ({} if problem.fields is None else {"fields": list(problem.fields)})


def plain_answer(request: HttpRequest, problem: Problem) -> JsonResponse:
    """The same where no view of the interface answers: addresses that are none, and errors of the server."""
    # To the byte as REST framework writes it: the address tells nothing of whether a view stands behind it.
    written = {"separators": (",", ":"), "ensure_ascii": False}
    return JsonResponse(
        body_of(problem),
        status=problem.status_code,
        content_type=MEDIA_TYPE,
        headers=problem.extra,
        json_dumps_params=written,
    )


def not_here() -> Problem:
    """404, in the same words whether it is hidden or never was."""
    return Problem(404, "Not here", "There is nothing at this address, or nothing that you may see.")


def too_large() -> Problem:
    """413: more than is read at once."""
    return Problem(413, "Too large", "Send less at once.")


def unreadable() -> Problem:
    """400: the request itself, before any address looked at it."""
    return Problem(400, "Not readable", "The request could not be read.")


def in_the_clear() -> Problem:
    """403: without TLS. No redirect, which a program follows without a word, its token sent in the clear each time."""
    return Problem(
        403,
        "Ask over TLS",
        "Ask at https:// instead. A token that was sent here could be read on the way: revoke it and make another.",
        type="plain-http",
    )


def server_error() -> Problem:
    """500: ours, not the asker's."""
    return Problem(500, "The server failed", "This is a fault of the server. Nothing was half saved.")


def invalid(fields: Sequence[Fault]) -> Problem:
    """422: the body could be read, and what it says cannot be kept."""
    return Problem(422, "Not valid", "Nothing was saved. See what is wrong with each field.", fields=fields)


def faults_of(detail: Any) -> list[Fault]:
    """The faults of REST framework's nested errors, flat: `entries.0.mites`; if there are many, the first of them."""
    found = list(islice(_each_fault(detail, ""), FAULTS_MOST + 1))
    if len(found) > FAULTS_MOST:
        found[FAULTS_MOST] = Fault(
            name=GENERAL, detail=f"There are more faults; these are the first {FAULTS_MOST}."
        )
    return found


def _each_fault(detail: Any, name: str) -> Iterator[Fault]:
    if isinstance(detail, Mapping):
        own = {api_settings.NON_FIELD_ERRORS_KEY: ""}
        for key, value in detail.items():
            yield from _each_fault(value, _joined(name, own.get(str(key), str(key))))
    elif isinstance(detail, list) and not all(isinstance(one, str) for one in detail):
        for place, value in enumerate(detail):
            yield from _each_fault(value, _joined(name, str(place)))
    else:
        for one in detail if isinstance(detail, list) else [detail]:
            yield Fault(name=name or GENERAL, detail=str(one))


def _joined(name: str, key: str) -> str:
    return ".".join(part for part in (name, key) if part)


def _as_problem(error: Exception) -> Problem | None:
    if isinstance(error, Problem):
        return error
    if isinstance(error, Http404 | exceptions.NotFound):
        return not_here()
    if isinstance(error, RequestDataTooBig):
        return too_large()
    if isinstance(error, exceptions.ValidationError):
        return invalid(faults_of(error.detail))
    if isinstance(error, ValidationError):
        return invalid(faults_of(_of_django(error)))
    if isinstance(error, PermissionDenied):
        return Problem(403, "Not allowed", "You can see this, and may not do that with it.")
    if isinstance(error, exceptions.APIException):
        return _of_framework(error)
    return None


def _of_django(error: ValidationError) -> dict[str, list[str]] | list[str]:
    if not hasattr(error, "error_dict"):
        return list(error.messages)
    return {("" if name == "__all__" else name): words for name, words in error.message_dict.items()}


def _of_framework(error: exceptions.APIException) -> Problem:
    titles = {
        400: "Cannot be read",
        401: "Sign in",
        403: "Not allowed",
        405: "No such method here",
        406: "No such kind of answer",
        415: "No such kind of body",
        429: "Too many requests",
    }
    status = error.status_code
    headers = {}
    if isinstance(error, exceptions.Throttled):
        headers["Retry-After"] = str(max(1, round(error.wait or 1)))
        detail = f"Ask again in {headers['Retry-After']} seconds."
    else:
        detail = str(error.detail)
    return Problem(status, titles.get(status, HTTPStatus(status).phrase), detail, headers=headers)


def _word(status: int) -> str:
    return HTTPStatus(status).phrase.lower().replace(" ", "-")
