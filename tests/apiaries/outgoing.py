"""What the tick sends about changes of accounts."""

from typing import Any

from django.core import mail
from django.utils import timezone

from apiaries.notices_sender import send_account_notices


def mails() -> list[Any]:
    """Send what waits; all that was sent."""
    send_account_notices(at=timezone.now())
    return mail.outbox
