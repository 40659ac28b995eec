"""Addresses of regions below `/api/v1/`."""

from django.urls import URLPattern
from rest_framework.routers import SimpleRouter

from reports.api.views import RegionViewSet

PATHS: list[URLPattern] = []


def routes(router: SimpleRouter) -> None:
    """Lists and things by key."""
    router.register("regions", RegionViewSet, basename="region")
