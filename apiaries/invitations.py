"""The invitation that a browser came with, kept in its session from the join page to the sign-up form."""

import datetime as dt

from django.http import HttpRequest

from apiaries.models import Invitation

KEY = "invitation"


def keep_invitation(request: HttpRequest, invitation: Invitation) -> None:
    """Remember it until the person has joined."""
    request.session[KEY] = invitation.token


def kept_invitation(request: HttpRequest, *, at: dt.datetime) -> Invitation | None:
    """The invitation kept in the session if it is still open, else None."""
    token = request.session.get(KEY)
    if not token:
        return None
    invitation = Invitation.objects.select_related("club", "invited_by").filter(token=token).first()
    return invitation if invitation is not None and invitation.is_open(at) else None


def forget_invitation(request: HttpRequest) -> None:
    """It was used."""
    request.session.pop(KEY, None)
