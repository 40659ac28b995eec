from django.apps import AppConfig
from django.utils import translation

from apiaries.language import speak_with


class Apiaries(AppConfig):
    """Who and where: people, clubs, yards, colonies, and who may see and do what."""

    name = "apiaries"

    def ready(self) -> None:
        """Sentences of modules that know no framework are looked up where the pages' own are."""
        from apiaries.columns_to_forget import (
            list_columns,  # models cannot be imported before all apps are loaded
        )

        list_columns()
        speak_with(translation)
        # Models cannot be imported before all apps are loaded.
        from apiaries import notices_heard, told, told_kinds  # noqa: F401  (receivers)
        from apiaries.models.places import end_words
        from apiaries.telling import facts, names

        names.update(told.NAMES)
        facts.register(kinds=told_kinds.KINDS, tables=told.TABLES, verbs=told.VERBS)
        if end_words not in facts.own_reasons:
            facts.own_reasons.append(end_words)
