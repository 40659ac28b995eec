"""Pages behind the links of a mail: open to whoever has the link, so they know nothing of a reader."""

from django.contrib.auth.models import AnonymousUser
from django.http import HttpResponse

ALONE = {
    "user": AnonymousUser(),  # whoever reads it: the page is the link's, not theirs
    "nav": [],
    "messages": [],
    "demo": False,
    "help_url": "",
    "who_sees_url": "",
    "cautions_url": "",
    "account_url": "",
}
"""What base.html knows of a reader, all of it nothing."""


def closed(response: HttpResponse, *, referrer: str = "same-origin") -> HttpResponse:
    """Kept nowhere, and its address told to no other site.

    A page with a form cannot say "no-referrer": browsers would then send the form with the origin "null", which the
    check against forged forms refuses.
    """
    response["Cache-Control"] = "private, no-store"
    response["Referrer-Policy"] = referrer
    response["X-Robots-Tag"] = "noindex"
    return response
