"""What signing in needs of an installation, tried for `manage.py check_setup` (`config.trials`)."""

from allauth.mfa.models import Authenticator
from django.conf import settings
from django.db import connection

from apiaries.second_step_seeds import Kept, all_kept, to_seal
from config.trials_of_services import BeWise, Mend


def second_steps_are_sealed() -> str:
    """Whoever has a backup should not have everybody's second step with it."""
    if Authenticator._meta.db_table not in connection.introspection.table_names():
        raise Mend("There are no tables.", "Say: manage.py migrate")
    kept = all_kept()
    if kept[Kept.UNREADABLE]:
        raise Mend(
            f"{kept[Kept.UNREADABLE]} seeds of second steps cannot be read: their key is not here.",
            "Put that key into SECOND_STEP_KEY, behind the newest one.",
        )
    if not settings.SERVED:
        return "not served"
    if not settings.SECOND_STEP_KEYS:
        raise BeWise("The seeds of second steps are kept in plain text.", "Set SECOND_STEP_KEY.")
    if late := to_seal(kept):
        raise BeWise(f"{late} seeds are not under the newest key.", "Say: manage.py seal_second_steps")
    return f"{kept[Kept.NEWEST]} seeds, all sealed under the newest key"
