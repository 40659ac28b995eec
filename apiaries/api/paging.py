"""Lists in pages: `{"items": […], "next": address or null}`, without totals, which would count what is hidden."""

from typing import Any

from django.core.signing import BadSignature, Signer
from rest_framework.pagination import Cursor, CursorPagination
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.utils.urls import replace_query_param

from apiaries.api.problems import Problem
from apiaries.api.reading import odd_question

USUAL, MOST = 50, 200


class Pages(CursorPagination):
    """Newest first, by what is new for good: rows that come in meanwhile neither repeat nor skip any.

    `ordering` names a unique column that everybody who sees a row may see, never one that is masked for some.
    The cursor is signed: a made-up one is refused before its words reach the database.
    """

    ordering = "-pk"
    page_size = USUAL
    max_page_size = MOST
    page_size_query_param = "limit"
    page_size_query_description = f"How many items at most, 1 to {MOST}; {USUAL} if not said."
    cursor_query_description = "From `next` of the page before; never made by hand."
    signer = Signer(salt="recount.api.cursor")

    def get_page_size(self, request: Request) -> int:
        said = request.query_params.get(self.page_size_query_param)
        if said is None:
            return self.page_size
        if not (
            said.isascii() and said.isdigit() and len(said) <= 3 and 1 <= int(said) <= self.max_page_size
        ):
            raise _odd("limit", f"Say a whole number from 1 to {self.max_page_size}.")
        return int(said)

    def encode_cursor(self, cursor: Cursor) -> str:
        """The address of that page, with the cursor signed."""
        return replace_query_param(self.base_url, self.cursor_query_param, self.signer.sign_object(cursor))

    def decode_cursor(self, request: Request) -> Cursor | None:
        said = request.query_params.get(self.cursor_query_param)
        if said is None:
            return None
        try:
            return Cursor(*self.signer.unsign_object(said))
        except BadSignature as error:
            raise _odd("cursor", "Take the address in next, as it is.") from error

    def get_schema_operation_parameters(self, view: Any) -> list[dict[str, Any]]:
        found: list[dict[str, Any]] = super().get_schema_operation_parameters(view)
        for one in found:
            if one["name"] == self.page_size_query_param:
                one["schema"] |= {"minimum": 1, "maximum": self.max_page_size, "default": self.page_size}
        return found

    def get_paginated_response(self, data: Any) -> Response:
        return Response({"items": data, "next": self.get_next_link()})

    def get_paginated_response_schema(self, schema: dict[str, Any]) -> dict[str, Any]:
        return {
            "type": "object",
            "required": ["items", "next"],
            "properties": {
                "items": schema,  # of the list already
                "next": {
                    "type": ["string", "null"],
                    "format": "uri",
                    "description": "The address of the next page; null on the last.",
                },
            },
        }


def _odd(name: str, words: str) -> Problem:
    return odd_question([{"name": name, "detail": words}])
