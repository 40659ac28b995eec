"""The description of the interface, and the pages that show it."""

from dataclasses import dataclass
from functools import cache
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import translation
from django.views.decorators.http import require_safe
from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.renderers import OpenApiYamlRenderer

from apiaries.api.views import LANGUAGE

KINDS = (
    ("bad-request", 400, "The body is no JSON, or larger than said here."),
    ("question", 400, "A parameter of the address is unknown, empty, said twice, or means nothing."),
    (
        "no-key",
        400,
        "Send Idempotency-Key, a UUID of version 7: new for a new count, the same for a new try.",
    ),
    ("unauthorized", 401, "No token was sent, or one that is wrong, revoked or over."),
    ("scope", 403, "The token was not made for this."),
    (
        "plain-http",
        403,
        "The question came without TLS. Revoke the token that came with it: it could be read on the way.",
    ),
    ("second-step", 403, "The role of the person needs a second step at sign-in, and they have set up none."),
    ("forbidden", 403, "You can see this, and may not do that with it."),
    (
        "not-found",
        404,
        "There is nothing at this address, or nothing that you may see: the two are told alike.",
    ),
    ("method-not-allowed", 405, "This cannot be done here."),
    ("not-acceptable", 406, "Answers are JSON, and Accept leaves no room for it."),
    ("conflict", 409, "It does not go with how things stand; the detail says why."),
    ("still-at-work", 409, "The first request with this key has no answer yet. Ask again in a moment."),
    ("precondition-failed", 412, "It was changed since you read it. ETag says what it is now."),
    ("request-entity-too-large", 413, "Send less at once."),
    ("unsupported-media-type", 415, "Bodies are application/json."),
    (
        "unprocessable-entity",
        422,
        "The body was read, and what it says cannot be kept; fields say where and why.",
    ),
    (
        "needs-a-look",
        422,
        "Unusual, and not saved yet. If it is right, send it with the keys of the questions.",
    ),
    ("key-used-before", 422, "This Idempotency-Key brought in something else. Make a new one."),
    ("precondition-required", 428, "Send If-Match with the ETag of what you read."),
    ("too-many-requests", 429, "Wait as many seconds as Retry-After says."),
    ("internal-server-error", 500, "A fault of the server."),
)
"""The last words of `type` in a problem, with their status."""


@dataclass(frozen=True)
class Operation:
    """One thing that can be asked, as the page shows it."""

    verb: str
    path: str
    words: list[str]
    parameters: list[dict[str, Any]]


@cache
def described() -> dict[str, Any]:
    """The description, made once for a process: it names no data and is the same for everybody."""
    with translation.override(LANGUAGE):
        return SchemaGenerator().get_schema(request=None, public=True)


@cache
def as_yaml() -> bytes:
    """The same as a file."""
    return OpenApiYamlRenderer().render(described(), renderer_context={})


@login_not_required
@require_safe
def schema(request: HttpRequest) -> HttpResponse:
    """The description as OpenAPI 3.1, for programs."""
    return HttpResponse(as_yaml(), content_type="application/yaml; charset=utf-8")  # RFC 9512, from memory


@login_not_required
@require_safe
def docs(request: HttpRequest) -> HttpResponse:
    """The description to read: no script is needed."""
    return render(request, "api_docs.html", {"operations": _operations(), "kinds": KINDS})


@login_not_required
@require_safe
def docs_try(request: HttpRequest) -> HttpResponse:
    """The same with a form for each operation, by the well-known page of the sidecar package."""
    return render(request, "api_docs_try.html")


def _operations() -> list[Operation]:
    return [
        Operation(
            verb=verb.upper(),
            path=path,
            words=[words for words in operation.get("description", "").split("\n\n") if words],
            parameters=[one for one in operation.get("parameters", []) if one["in"] == "query"],
        )
        for path, verbs in described()["paths"].items()
        for verb, operation in verbs.items()
    ]
