"""Programs that ask the interface, each with a token of its own."""

from typing import Any

from django.test import Client
from django.utils import timezone

from apiaries.actions.tokens import make_token
from apiaries.api.scopes import Scope
from apiaries.models import Person

ALL = tuple(scope.value for scope in Scope)


class Program:
    """Asks in a person's name, or in nobody's; keeps no cookies."""

    def __init__(self, person: Person | None, *scopes: str, word: str = "") -> None:
        self.word = word
        if person is not None:
            _, self.word = make_token(
                person=person, name="test", scopes=scopes or ALL, days=30, at=timezone.now(), by=person
            )

    def ask(self, path: str, verb: str = "GET", body: Any = None, **headers: str) -> Any:
        """The answer to one request below `/api/v1/`, or at a whole address."""
        own = {"Authorization": f"Bearer {self.word}"} if self.word else {}
        url = path if path.startswith(("/", "http")) else f"/api/v1/{path}"
        kind = {} if body is None else {"data": body, "content_type": "application/json"}
        return Client(headers=own | headers, enforce_csrf_checks=True).generic(verb, url, **_sent(kind))


def _sent(kind: dict[str, Any]) -> dict[str, Any]:
    import json

    if kind and not isinstance(kind["data"], str | bytes):
        kind["data"] = json.dumps(kind["data"])
    return kind
