"""The services beside the database, each tried for real by `manage.py check_setup`: the broker and the mail server."""

import secrets
import smtplib
import ssl
from queue import Empty
from typing import Any

from celery.exceptions import OperationalError as BrokerError
from django.conf import settings
from django.core.mail import EmailMessage, get_connection
from kombu import Exchange, Queue
from kombu.exceptions import KombuError

from config.celery import EMBEDDED, app

PATIENCE = 5.0  # seconds for the broker and for an answer of workers


class Mend(Exception):
    """Something must be mended: what it is, and what to do."""

    def __init__(self, what: str, do: str) -> None:
        super().__init__(what)
        self.what, self.do = what, do


class BeWise(Mend):
    """It works as it is; somebody who can should still do this."""


def broker_takes_messages() -> str:
    """A message goes there and is fetched again, on a queue that is removed."""
    name = f"recount-check-{secrets.token_hex(8)}"
    # On the exchange that every broker has: one of its own would stay there. A queue left by a kill goes by itself.
    own = Queue(name, Exchange(""), routing_key=name, expires=60)
    line = app.connection_for_write(transport_options=_hasty())
    try:
        with line:
            line.ensure_connection(max_retries=1, interval_start=0, timeout=PATIENCE)
            there = line.SimpleQueue(own)
            there.put(name)
            there.get(timeout=PATIENCE).ack()
            there.close()
            line.default_channel.queue_delete(name)
    except (Empty, OSError, KombuError, BrokerError, *line.connection_errors, *line.channel_errors) as error:
        raise Mend(
            f"The broker takes no message: {first_line(error)}",
            "See that it runs, and that CELERY_BROKER_URL holds its address and password.",
        ) from None
    if EMBEDDED:
        return "messages are files on this machine: for one machine and a first look only"
    return "takes a message and gives it back"


def workers_listen() -> str:
    if EMBEDDED:
        return "not asked: with files for messages nobody answers"
    line = app.connection_for_write()
    try:
        replies = app.control.ping(timeout=2.0) or []
    except (OSError, KombuError, BrokerError, *line.connection_errors, *line.channel_errors):
        raise Mend("Nobody can be asked.", "Mend the broker first.") from None
    if not replies:
        return "none runs yet: start one, and ask again"
    return f"{len(replies)} answer"


def mail_server_lets_us_in() -> str:
    """Connects, and signs in where EMAIL_URL has a password; sends nothing."""
    if not settings.EMAIL_BACKEND.endswith("smtp.EmailBackend"):
        raise Mend("Mail goes to files and reaches nobody.", "Set EMAIL_URL.")
    line = get_connection(timeout=10)
    try:
        line.open()
    except (OSError, smtplib.SMTPException, ssl.SSLError) as error:
        raise Mend(
            f"{settings.EMAIL_HOST}:{settings.EMAIL_PORT} does not let us in: {first_line(error)}",
            "See that EMAIL_URL holds its address, port, way of encryption, name and password.",
        ) from None
    finally:
        line.close()  # also where it let us in and did not know the password
    return f"{settings.EMAIL_HOST}:{settings.EMAIL_PORT} lets us in"


def mail_is_taken(address: str) -> str:
    subject = "Recount: a mail of check_setup"
    message = EmailMessage(
        subject, "This server's mails reach you.\n", to=[address], connection=get_connection(timeout=10)
    )
    try:
        message.send()
    except (OSError, smtplib.SMTPException) as error:
        raise Mend(
            f"The mail server refuses a mail to {address}: {first_line(error)}",
            f"See that it lets {settings.DEFAULT_FROM_EMAIL} send (MAIL_FROM), and the address.",
        ) from None
    return f"the mail server took one to {address}; look whether it came"


def _hasty() -> dict[str, Any]:
    """Time-outs, so that a broker behind a closed wall does not hold the command."""
    if EMBEDDED:
        return dict(app.conf.broker_transport_options)
    return {"socket_timeout": PATIENCE, "socket_connect_timeout": PATIENCE}


def first_line(error: Exception) -> str:
    return (str(error).strip() or type(error).__name__).splitlines()[0]
