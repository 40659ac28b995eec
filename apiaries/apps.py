from django.apps import AppConfig
from django.contrib.auth.signals import user_logged_in, user_logged_out
from django.core.signals import request_finished, request_started
from django.db.backends.signals import connection_created
from django.utils import translation

from apiaries import pooled, second_lock
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
        connection_created.connect(pooled.refuse_unsaid)
        connection_created.connect(second_lock.look_at)
        for ends in (request_started, request_finished, user_logged_out):
            ends.connect(second_lock.nobody_reads)
        user_logged_in.connect(second_lock.signed_in_reads)
        # Models cannot be imported before all apps are loaded.
        from apiaries import notices_heard, sign_in_log, sign_ins, told, told_kinds  # noqa: F401  (receivers)
        from apiaries.models.ends import end_words
        from apiaries.telling import facts, names

        names.update(told.NAMES)
        facts.register(kinds=told_kinds.KINDS, tables=told.TABLES, verbs=told.VERBS)
        if end_words not in facts.own_reasons:
            facts.own_reasons.append(end_words)
