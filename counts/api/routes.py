"""Addresses of counts below `/api/v1/`."""

from django.urls import URLPattern, path
from rest_framework.routers import SimpleRouter

from counts.api.views import CountViewSet, YardEstimateView

PATHS: list[URLPattern] = [
    path("yards/<int:pk>/estimate/", YardEstimateView.as_view(), name="yard-estimate"),
]


def routes(router: SimpleRouter) -> None:
    """Lists and things by key."""
    router.register("counts", CountViewSet, basename="count")
