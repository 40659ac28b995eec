"""The signed words in the links of a mail. Each opens one thing for one person, and nothing can be added to it."""

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum

from django.conf import settings
from django.core import signing
from django.urls import reverse
from django.utils.crypto import salted_hmac

from apiaries.models import Person
from reports.due_days import end_of_day
from treatments.constants import DEFAULTS
from treatments.models import Recount
from treatments.status import days_after

ENTRY_SALT = "reports.entry-link"
STOP_SALT = "reports.stop-mails"
LATER_SALT = "reports.remind-later"
LONGEST_USE = dt.timedelta(days=45)
"""A link in a mail opens nothing after so long, whatever it is about (our choice)."""
MARK_LENGTH = 16  # hexadecimal digits of the mark of an address; the signature guards it


class MailKind(StrEnum):
    """Mails that a person can stop on their own."""

    REMINDERS = "reminders"
    CALLS = "calls"
    BULLETINS = "bulletins"


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryWord:
    """What a link to a recount's form is bound to."""

    recount_pk: int
    person_pk: int
    issued_at: dt.datetime
    address: str
    """A mark of the address it was sent to."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """Whose mails of which kind a link stops."""

    person: Person
    kind: MailKind

    @property
    def is_wanted(self) -> bool:
        """Whether the person still wants these mails."""
        wishes = {
            MailKind.REMINDERS: self.person.wants_mail,
            MailKind.CALLS: self.person.wants_calls,
            MailKind.BULLETINS: self.person.wants_bulletins,
        }
        return wishes[self.kind]


@dataclass(frozen=True, slots=True, kw_only=True)
class Later:
    """Which thing of whose a link puts off."""

    person: Person
    subject: str


def entry_url(recount: Recount, person: Person, *, at: dt.datetime) -> str:
    """The whole address of the form for this recount, for this person only."""
    word = [recount.pk, person.pk, int(at.timestamp()), address_mark(person)]
    token = signing.Signer(salt=ENTRY_SALT).sign_object(word)
    return settings.SITE_URL + reverse("reports:recount-entry", args=[token])


def entry_word_of(token: str) -> EntryWord | None:
    """What a link to a form is bound to; None for a forged one."""
    try:
        recount_pk, person_pk, issued, address = signing.Signer(salt=ENTRY_SALT).unsign_object(token)
    except signing.BadSignature:
        return None
    issued_at = dt.datetime.fromtimestamp(issued, tz=dt.UTC)
    return EntryWord(recount_pk=recount_pk, person_pk=person_pk, issued_at=issued_at, address=address)


def address_mark(person: Person) -> str:
    """Changes with the person's address: a link sent to an old mailbox opens nothing any more."""
    return salted_hmac(ENTRY_SALT, person.email).hexdigest()[:MARK_LENGTH]


def last_use(word: EntryWord, recount: Recount) -> dt.datetime:
    """When a link ends: with the last day on which a count still tells of the treatment, or after 45 days."""
    last = days_after(recount.latest_on, int(DEFAULTS.after_count_late_days.value))
    return min(
        end_of_day(last, recount.treatment.yard.keeper.time_zone),
        word.issued_at + LONGEST_USE,
    )


def later_url(person: Person, subject: str, *, at: dt.datetime) -> str:
    """The whole address of the page that puts off one thing for one person, and does nothing else."""
    word = [person.pk, subject, int(at.timestamp()), address_mark(person)]
    token = signing.Signer(salt=LATER_SALT).sign_object(word)
    return settings.SITE_URL + reverse("reports:mail-later", args=[token])


def later_of_token(token: str, *, at: dt.datetime) -> Later | None:
    """What the link puts off; None for a forged or old one, or one sent to an address that is theirs no more."""
    try:
        pk, subject, issued, address = signing.Signer(salt=LATER_SALT).unsign_object(token)
    except signing.BadSignature:
        return None
    person = Person.objects.filter(pk=pk).first()
    issued_at = dt.datetime.fromtimestamp(issued, tz=dt.UTC)
    if person is None or address != address_mark(person) or at >= issued_at + LONGEST_USE:
        return None
    return Later(person=person, subject=subject)


def stop_token(person: Person, kind: MailKind = MailKind.REMINDERS) -> str:
    """The word in the link that stops a person's mails of a kind; it does nothing else and does not expire."""
    return signing.dumps([person.pk, kind.value], salt=STOP_SALT)


def stop_of_token(token: str) -> Stop | None:
    """What the link stops; None for a forged link or somebody gone."""
    try:
        found = signing.loads(token, salt=STOP_SALT)
    except signing.BadSignature:
        return None
    # Mails of the first weeks carry the person alone: there was one kind.
    pk, kind = (found, MailKind.REMINDERS.value) if isinstance(found, int) else found
    person = Person.objects.filter(pk=pk).first()
    return Stop(person=person, kind=MailKind(kind)) if person is not None else None
