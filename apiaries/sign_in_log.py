"""Sign-ins in the log of the service: OWASP ASVS 5.0.0, 16.3.1. Names nobody.

People are told by their number. Of a refused password the log has a mark of the address that was typed: the same for
the same address, so that guesses at one account are seen to be that, and of no use without the secret key. Nobody is
looked up for it, as that would take longer for an address that is known.
"""

import logging
from typing import Any

from django.contrib.auth.signals import user_logged_in, user_logged_out, user_login_failed
from django.dispatch import receiver
from django.utils.crypto import salted_hmac

from apiaries.models import Person

logger = logging.getLogger("recount.sign_in")
SALT = "apiaries.sign_in_log"


def mark_of(address: str) -> str:
    """Ten letters for an address that is typed somehow."""
    return salted_hmac(SALT, address.strip().lower(), algorithm="sha256").hexdigest()[:10]


@receiver(user_logged_in, dispatch_uid="apiaries.sign_in_log.in")
def signed_in(user: Person, **_: Any) -> None:
    logger.info("Person %s signed in, mark %s.", user.pk, mark_of(user.email))


@receiver(user_logged_out, dispatch_uid="apiaries.sign_in_log.out")
def signed_out(user: Person | None, **_: Any) -> None:
    if user is not None:  # a session that was over
        logger.info("Person %s signed out.", user.pk)


@receiver(user_login_failed, dispatch_uid="apiaries.sign_in_log.failed")
def refused(credentials: dict[str, Any], **_: Any) -> None:
    typed = credentials.get("email") or credentials.get("username") or ""
    logger.warning("A sign-in was refused, mark %s.", mark_of(str(typed)))
