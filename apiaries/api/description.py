"""How the interface describes itself (OpenAPI 3.1), from its code."""

from collections.abc import Iterator
from typing import Any

from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.openapi import AutoSchema

from apiaries.api.problems import MEDIA_TYPE
from apiaries.api.scopes import Scope

PROBLEMS = {
    "400": "The address asks something odd, a key is missing, or the body cannot be read.",
    "401": "Nobody is signed in, or the token is no good.",
    "403": "The token is not for this, or you may see this and not do that with it.",
    "404": "There is nothing, or nothing that you may see.",
    "406": "No such kind of answer.",
    "429": "Too many requests: Retry-After says for how long.",
}
"""Of every address."""
OF_WRITING = {
    "409": "Not as things stand, or the first request with this key is still at work.",
    "413": "The body is too large.",
    "415": "The body is no JSON.",
    "422": "What the body says cannot be kept: `fields` says why. Or it needs a look: `questions` ask.",
}
OF_CHANGING = {
    "412": "It has changed since you read it.",
    "428": "Say what you read, in If-Match.",
}
UNCHANGED = "It is as you have it."
PROBLEM: dict[str, Any] = {
    "type": "object",
    "description": "A refusal (RFC 9457).",
    "required": ["type", "title", "status", "detail"],
    "properties": {
        "type": {"type": "string", "description": "Where the reference says what it means."},
        "title": {"type": "string"},
        "status": {"type": "integer"},
        "detail": {"type": "string"},
        "fields": {
            "type": "array",
            "items": {
                "type": "object",
                "required": ["name", "detail"],
                "properties": {"name": {"type": "string"}, "detail": {"type": "string"}},
            },
        },
        "questions": {
            "type": "array",
            "description": "What is unusual about a count, with the keys that say yes.",
            "items": {
                "type": "object",
                "required": ["key", "question"],
                "properties": {"key": {"type": "string"}, "question": {"type": "string"}},
            },
        },
    },
}


class Description(AutoSchema):
    """The library's, with what the class says of its things, and the scope that a token needs."""

    def get_description(self) -> str:  # type: ignore[override]
        """The words of the class, where the method is one that all share."""
        if getattr(self.view, "action", None) in ("list", "retrieve"):
            return (type(self.view).__doc__ or "").strip()
        return str(super().get_description())

    def get_auth(self) -> list[dict[str, list[str]]]:
        """The scope beside the token: OpenAPI 3.1 allows roles there."""
        scope: Scope | None = self.view.reads if self.method == "GET" else self.view.writes
        needed: list[dict[str, list[str]]] = super().get_auth()
        return [{name: [scope.value] if scope and name == "token" else []} for one in needed for name in one]


class TokenScheme(OpenApiAuthenticationExtension):
    """A program's token."""

    target_class = "apiaries.api.tokens.ByToken"
    name = "token"

    def get_security_definition(self, auto_schema: object) -> dict[str, str]:
        """Bearer tokens (RFC 6750)."""
        return {
            "type": "http",
            "scheme": "bearer",
            "description": "A token that a person makes on the page Other programs, for the scopes named there.",
        }


class BrowserScheme(OpenApiAuthenticationExtension):
    """The person's own browser, signed in on the pages."""

    target_class = "apiaries.api.tokens.ByBrowser"
    name = "browser"

    def get_security_definition(self, auto_schema: object) -> dict[str, str]:
        """The cookie of the pages; whatever writes also sends X-CSRFToken."""
        return {
            "type": "apiKey",
            "in": "cookie",
            "name": "__Host-recount",
            "description": "A browser that is signed in. What writes carries X-CSRFToken too.",
        }


def with_problems(result: dict[str, Any], **_: Any) -> dict[str, Any]:
    """Every refusal that an operation may answer, and 304 where an answer has a tag."""
    result["components"]["schemas"]["Problem"] = PROBLEM
    for verb, operation in _operations(result):
        refusals = PROBLEMS | (OF_WRITING if verb != "get" else {})
        if any(one["name"] == "If-Match" for one in operation.get("parameters", ())):
            refusals = refusals | OF_CHANGING
        answer = {"schema": {"$ref": "#/components/schemas/Problem"}}
        for status, words in refusals.items():
            operation["responses"].setdefault(status, {"description": words, "content": {MEDIA_TYPE: answer}})
        if verb == "get" and not operation["operationId"].endswith("_list"):
            operation["responses"]["304"] = {"description": UNCHANGED}
        operation["responses"] = dict(sorted(operation["responses"].items()))
        scopes: list[str] = next(iter(one["token"] for one in operation["security"] if "token" in one), [])
        needs = f"Scope: `{scopes[0]}`." if scopes else "Any token may ask."
        operation["description"] = f"{operation.get('description', '').strip()}\n\n{needs}".strip()
    _without_marks(result)
    return result


def _without_marks(part: Any) -> None:
    """Lists of choices carry marks for a hook that names them, which is not used here: they stand where they are."""
    if isinstance(part, dict):
        part.pop("x-spec-enum-id", None)
        part = list(part.values())
    if isinstance(part, list):
        for one in part:
            _without_marks(one)


def _operations(result: dict[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    for verbs in result["paths"].values():
        yield from verbs.items()
