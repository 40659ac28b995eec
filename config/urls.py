"""Every address of the site. Pages are closed unless a view is opened by name (login_not_required)."""

from collections.abc import Iterator, Sequence
from importlib import import_module

from django.core.exceptions import ImproperlyConfigured
from django.db import transaction
from django.urls import URLPattern, URLResolver, include, path

from config import probes
from config.offline import service_worker
from config.script_words import script_words
from config.security_txt import security_txt

handler400 = "config.refusals.bad_request"
handler500 = "config.refusals.server_error"

WHOLE = frozenset(
    {
        "account_change_password",
        "account_email",
        "account_email_verification_sent",
        "account_reset_password_from_key",
        "account_set_password",
        "mfa_activate_totp",
        "mfa_deactivate_totp",
        "mfa_generate_recovery_codes",
    }
)
"""Views of the sign-in library that change how somebody signs in: with the mail about it, or not at all."""


def _make_whole(patterns: Sequence[URLPattern | URLResolver]) -> Iterator[str]:
    """Each of `WHOLE` in one transaction; their names as they are found."""
    for pattern in patterns:
        if isinstance(pattern, URLResolver):
            yield from _make_whole(pattern.url_patterns)
        elif pattern.name in WHOLE:
            pattern.callback = transaction.atomic(pattern.callback)
            yield pattern.name


signing_in = import_module("allauth.urls").urlpatterns
if set(_make_whole(signing_in)) != WHOLE:
    raise ImproperlyConfigured("The sign-in library names its views differently now.")

urlpatterns = [
    *probes.urlpatterns,
    path(".well-known/security.txt", security_txt, name="security-txt"),
    path("worker.js", service_worker, name="service-worker"),
    path("words/<slug:language>.<slug:version>.js", script_words, name="script-words"),
    path("account/", include(signing_in)),
    path("api/", include("config.api")),
    path("", include("apiaries.urls")),
    path("", include("counts.urls")),
    path("", include("treatments.urls")),
    path("", include("reports.urls")),
]
