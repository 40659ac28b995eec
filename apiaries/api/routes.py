"""Addresses of this app below `/api/v1/`. Each app has such a module; `config.api` brings them together."""

from django.urls import URLPattern, path
from rest_framework.routers import SimpleRouter

from apiaries.api.me import MeView
from apiaries.api.yards import ColonyViewSet, YardViewSet

PATHS: list[URLPattern] = [path("me/", MeView.as_view(), name="me")]


def routes(router: SimpleRouter) -> None:
    """Lists and things by key."""
    router.register("yards", YardViewSet, basename="yard")
    router.register("colonies", ColonyViewSet, basename="colony")
