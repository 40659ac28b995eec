from django.apps import AppConfig
from django.utils import translation

from apiaries.language import speak_with


class Apiaries(AppConfig):
    """Who and where: people, clubs, yards, colonies, and who may see and do what."""

    name = "apiaries"

    def ready(self) -> None:
        """Sentences of modules that know no framework are looked up where the pages' own are."""
        speak_with(translation)
