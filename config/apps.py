"""Holds the system checks of the whole site."""

from django.apps import AppConfig


class ConfigChecks(AppConfig):
    name = "config"
    label = "config"
    verbose_name = "Recount"

    def ready(self) -> None:
        # Registers the checks, and the application that tasks called from web processes are sent through.
        from config import celery, checks  # noqa: F401
