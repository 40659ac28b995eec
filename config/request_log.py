"""An id for each request, and a line for each in the log: the page's name and what came of it, nothing of anybody."""

import logging
import time
from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

from config.log_context import is_plain, new_id, request_id
from config.log_lines import masked, route_of
from config.metrics import count_request
from config.probes import VIEWS

logger = logging.getLogger("recount.requests")
HEADER = "X-Request-ID"
METHODS = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"})


def logged(get_response: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    """Stands before everything else, so that redirects, refusals and static files have an id too.

    A proxy's own id is taken over if it is short and plain, and given back with the answer.
    """

    def answer(request: HttpRequest) -> HttpResponse:
        came = request.headers.get(HEADER, "")
        own = came if is_plain(came) and masked(came) == came else new_id()
        held = request_id.set(own)
        request.recount_id = own  # type: ignore[attr-defined]
        begun = time.perf_counter()
        try:
            response = get_response(request)
            response.headers[HEADER] = own
            _write(request, response, time.perf_counter() - begun)
        finally:
            request_id.reset(held)
        return response

    return answer


def _write(request: HttpRequest, response: HttpResponse, seconds: float) -> None:
    """Of a file that is sent in pieces, the time until its first."""
    probe = request.path_info in VIEWS
    level = logging.DEBUG if probe and response.status_code == 200 else logging.INFO
    method = request.method if request.method in METHODS else "OTHER"
    route = route_of(request)
    count_request(route=route, method=method, status=response.status_code, took=seconds)
    ms = round(seconds * 1000)
    told = {"method": method, "route": route, "status": response.status_code, "ms": ms}
    logger.log(level, "%s %s %s in %s ms", method, route, response.status_code, ms, extra=told)
