from django.apps import AppConfig


class Counts(AppConfig):
    """What was counted and what it says."""

    name = "counts"
