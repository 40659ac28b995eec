"""Every address of the interface for other programs, brought together from the apps."""

from importlib import import_module

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.urls import URLPattern, URLResolver, include, path, re_path
from django.views.decorators.csrf import csrf_exempt
from rest_framework.routers import SimpleRouter

from apiaries.api import problems
from config import api_docs

ROOMS = ("apiaries", "counts", "treatments", "reports")


@login_not_required
@csrf_exempt
def elsewhere(request: HttpRequest, rest: str) -> HttpResponse:
    """No address of ours: a problem, and not a page."""
    return problems.plain_answer(request, problems.not_here())


def _addresses() -> list[URLPattern | URLResolver]:
    router = SimpleRouter(use_regex_path=False)
    found: list[URLPattern | URLResolver] = []
    for room in ROOMS:
        module = import_module(f"{room}.api.routes")
        module.routes(router)
        found += module.PATHS
    return [*found, *router.urls]


app_name = "api"
urlpatterns = [
    path("v1/", include(_addresses())),
    path("schema/", api_docs.schema, name="schema"),
    path("docs/", api_docs.docs, name="docs"),
    path("docs/try/", api_docs.docs_try, name="docs-try"),
    re_path(r"^(?P<rest>.*)$", elsewhere, name="elsewhere"),
]
