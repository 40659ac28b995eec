"""System checks: what is likely wrong with an installation, each with an id and a hint."""

import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any
from zoneinfo import available_timezones

from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, Warning, register
from django.db import connection

from config import secrets_from_files

OLDEST_POSTGRESQL = 15_00_00


@register()
def clock_is_utc(**_: Any) -> Sequence[CheckMessage]:
    """Due dates are worked out from each person's zone; the service itself must run on UTC."""
    if settings.TIME_ZONE != "UTC":
        return [
            Error("TIME_ZONE must stay UTC.", hint="People's zones are kept with them.", id="recount.E001")
        ]
    return []


@register()
def zones_are_known(**_: Any) -> Sequence[CheckMessage]:
    """Without a time zone data base every reminder would come at the wrong hour."""
    if "Europe/Berlin" not in available_timezones():
        return [Error("No time zone data found.", hint="Install the tzdata package.", id="recount.E002")]
    return []


@register()
def reference_data_is_there(**_: Any) -> Sequence[CheckMessage]:
    """The tables that load_reference reads."""
    missing = [
        name for name in ("action_levels.csv", "applications.csv") if not (settings.FIXTURES / name).exists()
    ]
    return [
        Error(f"{name} is missing.", hint="Take it from the release's fixtures folder.", id="recount.E003")
        for name in missing
    ]


@register()
def database_is_postgresql(**_: Any) -> Sequence[CheckMessage]:
    """Constraints, locks and row history are PostgreSQL's; nothing else will do."""
    if settings.DATABASES["default"]["ENGINE"] != "django.db.backends.postgresql":
        return [Error("The database is not PostgreSQL.", hint="Mend DATABASE_URL.", id="recount.E004")]
    return []


@register(Tags.translation)
def catalogues_are_compiled(**_: Any) -> Sequence[CheckMessage]:
    """Without its compiled file a catalogue says nothing: who chose that language reads English, or old words."""
    if not settings.SERVED:
        return []  # make demo and make test compile by themselves
    from config.catalogues import ROOT, uncompiled  # the service itself never needs what reads catalogues

    return [
        Warning(
            f"{path.relative_to(ROOT)} is newer than its compiled file, or has none.",
            hint="Run python -m config.catalogues compile",
            id="recount.W003",
        )
        for path, _language in uncompiled()
    ]


@register(Tags.database)
def database_is_recent(databases: Sequence[str] | None = None, **_: Any) -> Sequence[CheckMessage]:
    """Asked by migrate: the oldest release that the suite was run on."""
    if not databases or connection.vendor != "postgresql":
        return []
    if getattr(connection, "pg_version", 0) >= OLDEST_POSTGRESQL:
        return []
    return [Error("PostgreSQL is older than 15.", hint="Move to 15 or newer.", id="recount.E005")]


@register(Tags.security, deploy=True)
def mail_leaves_the_house(**_: Any) -> Sequence[CheckMessage]:
    """A served site that writes its mail to files reminds nobody."""
    if settings.EMAIL_BACKEND.endswith("filebased.EmailBackend"):
        return [Warning("Mail is written to files.", hint="Set EMAIL_URL.", id="recount.W001")]
    return []


@register(Tags.security, deploy=True)
def erasures_can_be_written_down(**_: Any) -> Sequence[CheckMessage]:
    """Without its journal nobody is forgotten: a restored backup would bring them back unnoticed."""
    place = Path(settings.ERASURE_JOURNAL)
    there = next(folder for folder in (place, *place.parents) if folder.exists())
    if os.access(there, os.W_OK) and (there == place or there.is_dir()):
        return []
    hint = "Let the site's user write there, or set RECOUNT_ERASURE_JOURNAL."
    return [Warning(f"{place} cannot be written.", hint=hint, id="recount.W004")]


@register(Tags.security, deploy=True)
def cache_is_shared(**_: Any) -> Sequence[CheckMessage]:
    """Limits on sign-in must be counted over all processes together."""
    if "locmem" in settings.CACHES["default"]["BACKEND"]:
        return [
            Warning("The cache is per process.", hint="Set CACHE_URL or leave it unset.", id="recount.W002")
        ]
    return []


@register(Tags.security)
def secrets_are_kept_close(**_: Any) -> Sequence[CheckMessage]:
    """A secret that every user of the machine can read is none."""
    return [
        Warning(f"{path} can be read by every user.", hint=f"Say: chmod 600 {path}", id="recount.W005")
        for path in secrets_from_files.open_to_all
    ]
