"""Addresses of treatments below `/api/v1/`."""

from django.urls import URLPattern
from rest_framework.routers import SimpleRouter

from treatments.api.views import TreatmentViewSet

PATHS: list[URLPattern] = []


def routes(router: SimpleRouter) -> None:
    """Lists and things by key."""
    router.register("treatments", TreatmentViewSet, basename="treatment")
