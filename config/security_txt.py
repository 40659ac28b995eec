"""Whom to tell about a hole in this installation, as RFC 9116 asks for it (from memory)."""

import datetime as dt

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

GOOD_FOR = dt.timedelta(days=90)
"""Read anew each time: who keeps a copy longer should look again."""


@login_not_required
@require_safe
def security_txt(request: HttpRequest) -> HttpResponse:
    """The file; not there while the operator named nobody."""
    if not settings.SECURITY_CONTACT:
        raise Http404
    until = (timezone.now() + GOOD_FOR).strftime("%Y-%m-%dT00:00:00Z")
    languages = ", ".join(code.partition("-")[0] for code, _ in settings.LANGUAGES)
    lines = (
        f"Contact: {settings.SECURITY_CONTACT}",
        f"Expires: {until}",
        f"Preferred-Languages: {languages}",
        f"Canonical: {settings.SITE_URL}{reverse('security-txt')}",
    )
    return HttpResponse("".join(f"{line}\n" for line in lines), content_type="text/plain; charset=utf-8")
