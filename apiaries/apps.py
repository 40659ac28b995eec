from django.apps import AppConfig


class Apiaries(AppConfig):
    """Who and where: people, clubs, yards, colonies, and who may see and do what."""

    name = "apiaries"
