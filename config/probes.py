"""Answers to whoever watches over this host: a container's health check, a proxy, a monitor.

They are asked at the host's own address and without TLS, so they answer before a request's host is held against
ALLOWED_HOSTS, and no redirect to TLS stands before them. They read no session and no cookie.
"""

from collections.abc import Callable

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, HttpResponseNotFound, JsonResponse
from django.urls import path, resolve
from django.utils.crypto import constant_time_compare
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe
from prometheus_client import CONTENT_TYPE_LATEST

from config import metrics, readiness

PLAIN = "text/plain; charset=utf-8"


@login_not_required
@never_cache
@require_safe
def livez(request: HttpRequest) -> HttpResponse:
    """This process answers; nobody else is asked."""
    return HttpResponse("ok", content_type=PLAIN)


@login_not_required
@never_cache
@require_safe
def readyz(request: HttpRequest) -> HttpResponse:
    """200 where this host can answer, 503 where it cannot; with ?whole, 503 where any part of the service fails.

    A proxy asks the first: were the broker or the tick in it, a standstill of mails would close all hosts at once.
    """
    parts = readiness.parts()
    asked = parts if "whole" in request.GET else readiness.OF_THIS_HOST
    ready = all(parts[name] is not readiness.State.NOT_OK for name in asked)
    return JsonResponse({"ready": ready, "parts": parts}, status=200 if ready else 503)


@login_not_required
@never_cache
@require_safe
def numbers(request: HttpRequest) -> HttpResponse:
    """For Prometheus, with the token of METRICS_TOKEN. Where that is not set, there is nothing here."""
    if not settings.METRICS_TOKEN:
        return HttpResponseNotFound("Not found.", content_type=PLAIN)
    sent = request.headers.get("Authorization", "")
    if not constant_time_compare(sent, f"Bearer {settings.METRICS_TOKEN}"):
        refused = HttpResponse("A token is wanted.", status=401, content_type=PLAIN)
        refused.headers["WWW-Authenticate"] = "Bearer"
        return refused
    return HttpResponse(metrics.answer(), content_type=CONTENT_TYPE_LATEST)


urlpatterns = [
    path("livez", livez, name="livez"),
    path("readyz", readyz, name="readyz"),
    path("metrics", numbers, name="metrics"),
]
VIEWS = {f"/{pattern.name}": pattern.callback for pattern in urlpatterns}


def answered_early(
    get_response: Callable[[HttpRequest], HttpResponse],
) -> Callable[[HttpRequest], HttpResponse]:
    """Stands below what sets headers and above what reads hosts, sessions and languages."""

    def answer(request: HttpRequest) -> HttpResponse:
        view = VIEWS.get(request.path_info)
        if view is None:
            return get_response(request)
        request.resolver_match = resolve(request.path_info)
        response: HttpResponse = view(request)
        response.headers["X-Frame-Options"] = "DENY"
        return response

    return answer
