"""Secrets from files: NAME_FILE=/path instead of NAME=value, as containers and service managers hand them out.

The value takes its place in the environment of this process, and NAME_FILE leaves it, so that whatever this process
starts finds one of them and not both. Refusals are sentences; none holds a part of a secret.
"""

import os
import stat
from collections.abc import MutableMapping
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured

SECRETS = (
    "DATABASE_URL",
    "REPLICA_DATABASE_URL",
    "SECRET_KEY",
    "SECRET_KEY_FALLBACKS",
    "SECOND_STEP_KEY",
    "CELERY_BROKER_URL",
    "EMAIL_URL",
    "CACHE_URL",
    "METRICS_TOKEN",
)
SEVERAL_LINES = frozenset({"SECRET_KEY_FALLBACKS", "SECOND_STEP_KEY"})  # parted by blanks of any kind
PLACEHOLDER = "replace-me"  # in each value of .env.example and of the documents that nobody may serve with
MOUNTED = Path("/run/secrets")  # of a container: whoever is in there is the service itself
LONGEST = 16_384  # bytes; a path to something else entirely is not read into memory

open_to_all: list[str] = []
"""Names of the files read by this process that every user of the machine can read, for the system check."""


def take_in(environment: MutableMapping[str, str] = os.environ) -> None:
    """Put the contents of each NAME_FILE where NAME would stand. Again is no harm.

    Raises ImproperlyConfigured, with nothing changed for that name, where both are given or the file is of no use.
    """
    for name in SECRETS:
        path = environment.get(f"{name}_FILE", "").strip()
        if not path:
            environment.pop(f"{name}_FILE", None)
            continue
        if environment.get(name, "").strip():
            raise ImproperlyConfigured(f"{name} and {name}_FILE are both set: keep one of them.")
        environment[name] = _contents(name, Path(path))
        del environment[f"{name}_FILE"]


def refuse_placeholders(environment: MutableMapping[str, str] = os.environ) -> None:
    """Raise ImproperlyConfigured where a value of the example was left as it was."""
    for name in (*SECRETS, "ALLOWED_HOSTS", "SITE_URL", "MAIL_FROM", "SECURITY_CONTACT"):
        if PLACEHOLDER in environment.get(name, "").lower():
            raise ImproperlyConfigured(f"{name} still says {PLACEHOLDER}, as the example does: put your own.")


def _contents(name: str, path: Path) -> str:
    try:
        with path.open("rb") as file:
            mode = os.fstat(file.fileno()).st_mode
            raw = file.read(LONGEST + 1)
        value = raw.decode().strip()
    except OSError as error:
        raise ImproperlyConfigured(
            f"{name}_FILE names {path}, which cannot be read: {error.strerror}. "
            "Mend the path, or let the service's user read the file."
        ) from None
    except UnicodeDecodeError:
        raise ImproperlyConfigured(f"{name}_FILE names {path}, which is not plain text.") from None
    if not value:
        raise ImproperlyConfigured(f"{name}_FILE names {path}, which is empty.")
    if len(raw) > LONGEST or ("\n" in value and name not in SEVERAL_LINES):
        raise ImproperlyConfigured(f"{name}_FILE names {path}, which holds more than one line.")
    if mode & stat.S_IROTH and MOUNTED not in path.absolute().parents:
        open_to_all.append(str(path))
    return value
