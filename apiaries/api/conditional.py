"""Answers that are asked for only if they changed, and changes that are made only to what was read (RFC 9110, 13.1).

An entity tag stands for the facts of an answer, not for its bytes: compressing it on the way turns a strong tag into
a weak one, so tags are compared without their `W/`.
"""

import json
from hashlib import sha256
from typing import Any

from django.core.serializers.json import DjangoJSONEncoder
from django.utils.http import parse_etags
from rest_framework.request import Request
from rest_framework.response import Response

from apiaries.api.problems import Problem


def etag_of(version: Any) -> str:
    """The tag of a state: `version` is whatever changes when the answer does, in things that JSON can say."""
    words = json.dumps(version, sort_keys=True, cls=DjangoJSONEncoder)
    return f'"{sha256(words.encode()).hexdigest()[:32]}"'


def require_match(request: Request, etag: str) -> None:
    """Refuse a change by somebody who does not say what they read (428), or read something older (412)."""
    said = request.headers.get("If-Match")
    if said is None:
        raise Problem(
            428,
            "Say what you read",
            "Send If-Match with the ETag of what you read, so that nobody's change is lost.",
            headers={"ETag": etag},
        )
    if etag not in _plain(said):
        raise Problem(
            412,
            "It has changed",
            "Somebody changed it since you read it. Read it again, then decide.",
            headers={"ETag": etag},
        )


def answer_if_changed(request: Request, data: Any) -> Response:
    """The data with its tag; 304 without a body to somebody who has it. May be kept, and is asked about each time."""
    etag = etag_of(data)
    known = _plain(request.headers.get("If-None-Match", ""))
    headers = {"ETag": etag, "Cache-Control": "private, no-cache"}
    if etag in known or "*" in known:
        return Response(status=304, headers=headers)
    return Response(data, headers=headers)


def _plain(header: str) -> set[str]:
    return {tag.removeprefix("W/") for tag in parse_etags(header)}
