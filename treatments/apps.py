from django.apps import AppConfig


class Treatments(AppConfig):
    """What was done, what to do, did it work."""

    name = "treatments"
