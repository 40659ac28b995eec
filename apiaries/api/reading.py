"""What is read from a request: JSON bodies of bounded size, and only questions that somebody answers."""

import json
from collections.abc import Collection, Mapping
from typing import Any, NoReturn

from rest_framework.exceptions import ParseError
from rest_framework.parsers import BaseParser
from rest_framework.request import Request

from apiaries.api.problems import Fault, Problem

LARGEST = 1024 * 1024
"""Bytes of a body: some thousand counts."""


class StrictJson(BaseParser):
    """JSON in UTF-8 (RFC 8259): no NaN, no name twice in an object, no bottomless nesting, no endless body."""

    media_type = "application/json"

    def parse(
        self, stream: Any, media_type: str | None = None, parser_context: Mapping[str, Any] | None = None
    ) -> Any:
        """The body's value; 400 with the reason, or 413."""
        # REST framework reads the stream itself, past Django's own limit.
        raw = stream.read(LARGEST + 1)
        if len(raw) > LARGEST:
            raise Problem(413, "Too large", f"Send at most {LARGEST} bytes at once.")
        try:
            return json.loads(raw.decode(), object_pairs_hook=_once_each, parse_constant=_no_number)
        except RecursionError as error:
            raise ParseError("The JSON is nested too deep.") from error
        except ValueError as error:  # not UTF-8, not JSON, or a number of too many digits
            raise ParseError(f"This is not JSON: {error}") from error


def refuse_odd_questions(request: Request, known: Collection[str], lists: Collection[str] = ()) -> None:
    """400 for a parameter nobody asked for, an empty one, and one said twice that is no list."""
    faults: list[Fault] = []
    for name, said in request.query_params.lists():
        if name not in known:
            words = (
                f"Not known here. Known are: {', '.join(sorted(known))}."
                if known
                else "Nothing can be asked here."
            )
        elif len(said) > 1 and name not in lists:
            words = "Said more than once."
        elif not all(said):
            words = "Empty: leave it out, or say something."
        else:
            continue
        faults.append({"name": name[:80], "detail": words})
    if faults:
        raise odd_question(faults)


def odd_question(faults: list[Fault]) -> Problem:
    """400: a parameter of the address that means nothing."""
    return Problem(
        400, "Odd question", "See what is wrong with each parameter.", type="question", fields=faults
    )


def _once_each(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        raise ValueError("a name stands twice in one object")
    return found


def _no_number(word: str) -> NoReturn:
    raise ValueError(f"{word} is no number")
