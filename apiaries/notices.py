"""Writes the mails about changes of an account: a row in the transaction of the change, so that none gets lost."""

import datetime as dt
from typing import Any

from django.conf import settings
from django.core.mail import EmailMultiAlternatives
from django.urls import reverse
from django.utils.translation import override

from apiaries.language import mark, say
from apiaries.mail import compose
from apiaries.models import AccountNotice, NoticeKind, Person
from apiaries.zones import zone_of

OF_USE = dt.timedelta(days=3)
"""After so long a mail about a change is given up: whoever waits that long has seen the change (our choice)."""

WORDS: dict[NoticeKind, tuple[str, str]] = {
    NoticeKind.PASSWORD: (
        mark("Your password was changed"),
        mark(
            "The password you sign in with on Recount was changed. You are signed out wherever else you were in."
        ),
    ),
    NoticeKind.EMAIL: (
        mark("The address you sign in with was changed"),
        mark("On Recount you sign in as {new} from now on, and no longer as {old}. Mails go there too."),
    ),
    NoticeKind.EMAIL_ADDED: (
        mark("An address was added to your account"),
        mark("You can sign in on Recount with {new} too from now on."),
    ),
    NoticeKind.EMAIL_REMOVED: (
        mark("An address was removed from your account"),
        mark("You can no longer sign in on Recount with {old}."),
    ),
    NoticeKind.STEP_ON: (
        mark("Your second step at sign-in is on"),
        mark("From now on Recount asks for a code from your authenticator app at each sign-in."),
    ),
    NoticeKind.STEP_OFF: (
        mark("Your second step at sign-in is off"),
        mark("Recount no longer asks for a code from your authenticator app when you sign in."),
    ),
    NoticeKind.STEP_RESET: (
        mark("The second step at sign-in was reset"),
        mark(
            "The second step at sign-in of {name} on Recount was reset by {by}, because: “{why}”. "
            "App and recovery codes no longer work, and all sign-ins were closed."
        ),
    ),
    NoticeKind.CODES: (
        mark("New recovery codes were made"),
        mark("New recovery codes were made for your sign-in on Recount. The earlier ones no longer work."),
    ),
    NoticeKind.TOKEN_REVOKED: (
        mark("A token was revoked"),
        mark("The token “{name}” was revoked on Recount: no program gets in with it any more."),
    ),
}
"""Subject and sentence of those that have no mail of their own."""


def tell(
    kind: NoticeKind, person: Person, *, at: dt.datetime, to: str | None = None, **facts: Any
) -> AccountNotice:
    """Write down that something changed, in the person's language; `facts` fill the sentence. Sends nothing."""
    subject, what = WORDS[kind]
    address = to or person.email
    with override(person.language):
        message = compose(
            "apiaries/mail/account",
            to=address,
            context={
                "subject": say(subject),
                "what": say(what, **facts),
                "at": at.astimezone(zone_of(person.time_zone)),
                "link": settings.SITE_URL + reverse("account_reset_password"),
            },
        )
    return keep(message, kind=kind, person=person, at=at)


def keep(
    message: EmailMultiAlternatives, *, kind: NoticeKind, person: Person, at: dt.datetime
) -> AccountNotice:
    """Keep a mail that is ready; the tick sends it once what made it has been committed."""
    return AccountNotice.objects.create(
        person=person,
        kind=kind,
        to=message.to[0],
        subject=str(message.subject),
        text=str(message.body),
        html=str(message.alternatives[0][0]),
        made_at=at,
        next_at=at,
        useless_after=at + OF_USE,
    )
