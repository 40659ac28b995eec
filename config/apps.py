"""Holds the system checks of the whole site."""

from django.apps import AppConfig


class ConfigChecks(AppConfig):
    name = "config"
    label = "config"
    verbose_name = "Recount"

    def ready(self) -> None:
        from config import checks  # noqa: F401  (registers them)
