"""Real processes beside a test, on the test's own database."""

import os
from typing import Any

from django.conf import settings
from django.db import connection


def environment(**more: str) -> dict[str, str]:
    """What a process needs to work on the database of the running test."""
    database: dict[str, Any] = connection.settings_dict
    host = database["HOST"] or ""
    url = f"postgres://{database['USER']}:{database['PASSWORD'] or ''}@"
    url += f"/{host.replace('/', '%2F')}" if host.startswith("/") else f"{host}:{database['PORT'] or 5432}"
    return (
        os.environ
        | {
            "DATABASE_URL": f"{url}/{database['NAME']}",
            "RECOUNT_TEST": "1",
            "DJANGO_SETTINGS_MODULE": "config.settings",
            "PYTHONPATH": str(settings.BASE_DIR),
        }
        | more
    )
